"""Read a parameter file: every scalar stays the text that was written, every value knows its line.

YAML would guess: ``12:30`` a number in base sixty, ``no`` a boolean, ``1_000`` and ``010`` numbers. Here the
events of a safe parser are put together without any guess; the model of the parameter file decides what each
text means. Tags are refused, so no object is ever made from a file, and the size, the depth and the number of
values (aliases counted as often as they are used) are limited.
"""

from dataclasses import dataclass, field
from pathlib import Path

from ruamel.yaml import YAML
from ruamel.yaml.error import MarkedYAMLError, YAMLError
from ruamel.yaml.events import (
    AliasEvent,
    DocumentStartEvent,
    MappingEndEvent,
    MappingStartEvent,
    ScalarEvent,
    SequenceEndEvent,
    SequenceStartEvent,
)

from kit.errors import InputError

LARGEST_FILE = 1_000_000
MOST_VALUES = 50_000
DEEPEST = 30

Path_ = tuple[str | int, ...]


@dataclass
class Document:
    """What a parameter file says.

    Attributes
    ----------
    file : Path
    values : dict
        Nested dicts and lists of text; None where nothing is written.
    lines : dict
        Line (from 1) of each key path, a tuple such as ``("load_cases", "bending", "span")``.
    """

    file: Path
    values: dict
    lines: dict[Path_, int] = field(default_factory=dict)

    def place(self, path: Path_) -> str:
        """File, line and key path, such as ``study.yml, line 12, load_cases.bending.span``."""
        line = next((self.lines[path[:n]] for n in range(len(path), 0, -1) if path[:n] in self.lines), None)
        parts = [str(self.file), f"line {line}" if line else "", dotted(path)]
        return ", ".join(part for part in parts if part)


def dotted(path: Path_) -> str:
    """A key path as it is shown: ``outlines[0].files``, counting from 0."""
    text = ""
    for part in path:
        text += f"[{part}]" if isinstance(part, int) else f"{'.' if text else ''}{part}"
    return text


def read_yaml(file: Path) -> Document:
    """Read a parameter file.

    Raises
    ------
    InputError
        The file is missing, too large, not UTF-8, not YAML, repeats a key, or holds what a parameter file
        never needs (tags, several documents, merge keys).
    """
    return parse_yaml(_text(Path(file)), Path(file))


def parse_yaml(text: str, file: Path = Path("parameters")) -> Document:
    """As `read_yaml`, from text already read."""
    builder = _Builder(file)
    try:
        for event in YAML(typ="safe", pure=True).parse(text):
            builder.take(event)
    except MarkedYAMLError as error:
        mark = error.problem_mark or error.context_mark
        line = f", line {mark.line + 1}" if mark else ""
        raise InputError(f"not YAML: {error.problem or error.context}", f"{file}{line}", _YAML_HELP) from None
    except (YAMLError, ValueError) as error:
        first = str(error).strip().splitlines()[0] if str(error).strip() else type(error).__name__
        raise InputError(f"not YAML: {first}", str(file), _YAML_HELP) from None
    if not isinstance(builder.root, dict):
        found = "nothing" if builder.root is None else "no keys at the top level"
        raise InputError(f"it holds {found}", str(file), "keys such as study, title and outlines; see `new`")
    return Document(file, *_unfolded(builder))


_YAML_HELP = "indent with blanks, put `key: value` on each line, quote text that holds `: ` or ` #`"


def _text(file: Path) -> str:
    if not file.is_file():
        kind = "a folder" if file.is_dir() else "missing"
        raise InputError(f"the parameter file is {kind}", str(file), "the path of an existing YAML file")
    try:
        if file.stat().st_size > LARGEST_FILE:
            raise InputError("the file is larger than 1 MB", str(file), "a parameter file of a few pages")
        return file.read_text(encoding="utf-8-sig")
    except UnicodeDecodeError as error:
        raise InputError(
            f"byte {error.start} is not UTF-8", str(file), "save the file as UTF-8 text"
        ) from None
    except OSError as error:
        raise InputError(f"it cannot be read: {error.strerror}", str(file), "a readable file") from None


class _Map(dict):
    """A mapping under construction, with the line of each key."""

    def __init__(self):
        super().__init__()
        self.key_lines: dict[str, int] = {}


class _List(list):
    def __init__(self):
        super().__init__()
        self.item_lines: list[int] = []


_NO_KEY = object()


class _Builder:
    """Puts the parser's events together; ``stack`` holds [container, key waiting for its value, path]."""

    def __init__(self, file: Path):
        self.file, self.root, self.documents = file, None, 0
        self.stack: list[list] = []
        self.anchors: dict[str, object] = {}

    def take(self, event) -> None:
        line = event.start_mark.line + 1 if event.start_mark else 0
        if isinstance(event, DocumentStartEvent):
            self.documents += 1
            if self.documents > 1:
                raise self.refusal(line, "a second document begins here", "one document; remove the ---")
        elif isinstance(event, AliasEvent):
            self.put(self.aliased(event.anchor, line), line)
        elif isinstance(event, ScalarEvent):
            self.refuse_tag(event, line)
            plain = event.style is None
            value = None if plain and event.value in ("", "~", "null") else event.value
            self.put(value, line, event.anchor, is_text=not plain)
        elif isinstance(event, (MappingStartEvent, SequenceStartEvent)):
            self.refuse_tag(event, line)
            self.open(_Map() if isinstance(event, MappingStartEvent) else _List(), event.anchor, line)
        elif isinstance(event, (MappingEndEvent, SequenceEndEvent)):
            self.stack.pop()

    def refusal(self, line: int, what: str, todo: str) -> InputError:
        path = dotted(self.path())
        return InputError(what, f"{self.file}, line {line}" + (f", {path}" if path else ""), todo)

    def path(self) -> Path_:
        """Where the next value belongs."""
        if not self.stack:
            return ()
        container, key, base = self.stack[-1]
        if isinstance(container, list):
            return (*base, len(container))
        return base if key is _NO_KEY else (*base, key)

    def refuse_tag(self, event, line: int) -> None:
        tag = str(getattr(event, "tag", None) or "")
        if tag and tag != "!":
            raise self.refusal(line, f"the tag {tag} is not allowed", "plain values without tags")

    def aliased(self, anchor: str, line: int):
        if anchor not in self.anchors:
            raise self.refusal(line, f"*{anchor} points to nothing", "an anchor defined further up")
        value = self.anchors[anchor]
        if any(value is container for container, _, _ in self.stack):
            raise self.refusal(line, f"*{anchor} contains itself", "values that end")
        return value

    def open(self, container, anchor, line: int) -> None:
        if len(self.stack) >= DEEPEST:
            raise self.refusal(line, f"more than {DEEPEST} levels deep", "the keys of the parameter file")
        if self.stack and isinstance(self.stack[-1][0], dict) and self.stack[-1][1] is _NO_KEY:
            raise self.refusal(line, "a list or mapping is used as a key", "text as a key")
        path = self.path()
        self.put(container, line, anchor)
        self.stack.append([container, _NO_KEY, path])

    def put(self, value, line: int, anchor=None, is_text=False) -> None:
        if anchor:
            self.anchors[anchor] = value
        if not self.stack:
            self.root = value
            return
        top = self.stack[-1]
        if isinstance(top[0], list):
            top[0].item_lines.append(line)
            top[0].append(value)
        elif top[1] is _NO_KEY:
            top[1] = self.key(top[0], value, line, is_text)
        else:
            top[0][top[1]], top[1] = value, _NO_KEY

    def key(self, container: _Map, value, line: int, is_text: bool) -> str:
        if not isinstance(value, str):
            raise self.refusal(line, "a key is missing before the colon", "a key, then a colon")
        if value == "<<" and not is_text:
            raise self.refusal(line, "merge keys (<<) are not read here", "write the keys out")
        if value in container:
            self.stack[-1][1] = value
            first = container.key_lines[value]
            raise self.refusal(line, f"the key is given twice, first in line {first}", "each key once")
        container.key_lines[value] = line
        return value


def _unfolded(builder: _Builder) -> tuple[dict, dict[Path_, int]]:
    """Plain dicts and lists, aliases written out, and the line of each path; counts while it goes."""
    lines: dict[Path_, int] = {}
    count = 0

    def unfold(value, path: Path_):
        nonlocal count
        count += 1
        if count > MOST_VALUES:
            what = f"more than {MOST_VALUES} values once aliases are written out"
            raise InputError(what, str(builder.file), "fewer aliases, or a shorter file")
        if isinstance(value, _Map):
            lines.update({(*path, key): line for key, line in value.key_lines.items()})
            return {key: unfold(item, (*path, key)) for key, item in value.items()}
        if isinstance(value, _List):
            lines.update({(*path, i): line for i, line in enumerate(value.item_lines)})
            return [unfold(item, (*path, i)) for i, item in enumerate(value)]
        return value

    return unfold(builder.root, ()), lines
