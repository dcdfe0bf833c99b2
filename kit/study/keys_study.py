"""Keys of the parameter file about accuracy, uncertainty, ranking, trials and the report."""

from typing import Any

from pydantic import Field

from kit.study.fields import FileName, Keys, Name, Text, YesNo, choice, number, one_or_many, quantity, whole

Seed = whole(least=0, most=2**31 - 1)


class Author(Keys):
    """Who made the study."""

    name: Text = Field(description="Name as it is cited")
    affiliation: Text | None = Field(None, description="Where the author works")
    orcid: Text | None = Field(None, pattern=r"^([0-9]{4}-){3}[0-9]{3}[0-9X]$", description="ORCID iD")


class Named(Keys):
    """One variant with a name of its own."""

    name: Name = Field(description="Name of the variant")
    set: dict[str, Any] = Field(min_length=1, description="Key paths and the values they take")


class Variants(Keys):
    """What the study varies."""

    vary: dict[str, list[Any]] = Field({}, description="Key paths, each with a list: every combination")
    named: tuple[Named, ...] = Field((), description="Variants one by one")


class Accuracy(Keys):
    """How close is close enough."""

    torsion_bounds: quantity("ratio", least=1e-5, most=0.2) = Field(
        0.005, description="Refine until (J_high − J_low) / J is below this"
    )


class Verification(Keys):
    """How much is computed again, by the tests' published values and by other routes."""

    published: whole(least=10, most=100_000) | None = Field(
        None,
        description="How many published values are recomputed, a seeded sample of every topic; without it all",
    )
    audit: whole(least=1, most=1000) | None = Field(
        None, description="How many sections are computed again; without it one in twenty, 1 to 4"
    )


class ModelSpread(Keys):
    """Scatter of the model itself, by kind of load case."""

    bending: quantity("ratio", least=0, below=1) = Field(0.0, description="Coefficient of variation")
    compression: quantity("ratio", least=0, below=1) = Field(0.0, description="Coefficient of variation")
    tension: quantity("ratio", least=0, below=1) = Field(0.0, description="Coefficient of variation")
    torsion: quantity("ratio", least=0, below=1) = Field(0.0, description="Coefficient of variation")


class Uncertainty(Keys):
    """What scatters besides the material, and how it is sampled."""

    samples: whole(least=100, most=1_000_000) = Field(2000, description="Number of samples")
    seed: Seed = Field(1, description="Seed of the random samples")
    dimensions: quantity("length", least=0) = Field(0.0, description="Standard deviation of an edge")
    model: ModelSpread = Field(ModelSpread(), description="Scatter of the model by kind of load case")


class Ranking(Keys):
    """How outlines are ranked."""

    group_by: one_or_many(Text) = Field((), description="Columns to rank within, such as character")
    resample: choice("family", "style", "outline", "none") = Field(
        "family", description="What the intervals of the ranks resample"
    )
    weights: dict[Name, number(least=0)] | None = Field(
        None, description="Weight of each load case; without it there is no overall rank"
    )


class Limits(Keys):
    """Where the kit gives up on one outline."""

    points: whole(least=100, most=1_000_000) = Field(20_000, description="Most points of one outline")
    elements: whole(least=100, most=2_000_000) = Field(60_000, description="Most elements of one mesh")
    time_per_outline: quantity("duration", above=0) = Field(20.0, description="Longest time for one outline")
    memory_per_worker: quantity("memory", above=100) = Field(2000.0, description="Most memory of one worker")


class TestPlan(Keys):
    """Which pieces to make and test."""

    __test__ = False
    pieces: whole(least=1, most=1000) = Field(8, description="How many different pieces")
    repeats: whole(least=1, most=100) = Field(3, description="Tests of each")
    stock: (
        tuple[quantity("length", above=0), quantity("length", above=0), quantity("length", above=0)] | None
    ) = Field(None, description="Length, width and thickness of the stock")
    load_cell: quantity("force", above=0) | None = Field(None, description="Capacity of the load cell")
    load_cases: one_or_many(Name) | None = Field(None, description="Which load cases; all of them without it")


class RecordFormat(Keys):
    """How the records of the testing machine are written, where detection errs."""

    delimiter: choice(",", ";", "tab", "blank") | None = Field(None, description="Between the columns")
    decimal: choice(".", ",") | None = Field(None, description="Decimal sign")
    columns: dict[Text, Text] | None = Field(None, description="Name of each column in the record")
    units: dict[Text, Text] | None = Field(None, description="Unit of each column")


class Reduction(Keys):
    """How a record is reduced."""

    toe: YesNo = Field(True, description="Compensate the toe")
    modulus_window: tuple[number(least=0, below=1), number(above=0, below=1)] = Field(
        (0.0005, 0.0025), description="Strains between which the modulus is taken"
    )
    compliance: quantity("compliance", least=0) = Field(0.0, description="Of the machine")
    indentation: quantity("compliance", least=0) = Field(
        0.0, description="Of a beam at loads and supports, measured apart"
    )


class Trials(Keys):
    """Tests of real pieces."""

    pieces: FileName = Field(description="CSV: piece, record, outline, orientation, load_case, mass, …")
    record_format: RecordFormat = Field(RecordFormat(), description="How records are written")
    reduction: Reduction = Field(Reduction(), description="How records are reduced")
    predictions: FileName | None = Field(
        None, description="predictions.csv of the plan, made before the tests; that of the results without it"
    )


class Shortlist(Keys):
    """Which outlines are drawn large, and looked at closely for the buckling of their walls."""

    best: whole(least=0, most=50) = Field(6, description="How many of the best")
    worst: whole(least=0, most=50) = Field(3, description="How many of the worst")
    by: Name | None = Field(None, description="Load case whose merit decides; the first without it")


class Report(Keys):
    """The write-up."""

    charts: choice("interactive", "still") = Field("interactive", description="Kind of charts")
    shortlist: Shortlist = Field(
        Shortlist(), description="Which outlines are drawn large and looked at closely"
    )
    local_buckling: choice("shortlist", "all", "none") = Field(
        "shortlist", description="Which outlines are checked for local and distortional buckling"
    )
    compare_with: FileName | None = Field(None, description="Folder of earlier results")
