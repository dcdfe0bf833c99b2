"""The two ways an input can be refused."""


class InputError(Exception):
    """The input needs mending before anything can run (exit status 2).

    Parameters
    ----------
    what : str
        What was found that cannot be used, with the value itself.
    where : str
        File and place in it (a key's full path, a line).
    todo : str
        What would be accepted.
    """

    def __init__(self, what: str, where: str = "", todo: str = ""):
        self.what, self.where, self.todo = what, where, todo
        super().__init__("\n".join(part for part in (where and f"{where}:", what, todo) if part))


class Unusable(Exception):
    """One outline cannot be analysed; the message is the reason a person can act on.

    It becomes a row of ``left-out.csv`` and never stops a study.
    """
