"""Records as machines write them: the layout is detected, and what cannot be told is refused with the reason."""

import hashlib

import numpy as np
import pytest

from kit.errors import InputError, Unusable
from kit.trials.layout import RecordFormat, role_of
from kit.trials.records import parse_record

TRAVEL = np.linspace(0.0, 5.0, 40)
LOAD = 123.4 * TRAVEL


def lines(pattern: str, scale: float = 1.0, comma: bool = False) -> str:
    rows = [
        pattern.format(n=n, t=n / 10, x=x, f=f * scale)
        for n, (x, f) in enumerate(zip(TRAVEL, LOAD, strict=True))
    ]
    return "\n".join(row.replace(".", ",") if comma else row for row in rows)


MANNERS = {
    "semicolons and decimal commas": "Zeit;Weg;Kraft\ns;mm;kN\n" + lines("{t:.1f};{x:.6f};{f:.9f}", 1e-3, True),
    "tabs, load first": "Load [N]\tDisplacement [mm]\n" + lines("{f:.6f}\t{x:.6f}"),
    "commas with a number for each row": "Row,Deflection (mm),Load (N)\n" + lines("{n},{x:.6f},{f:.6f}"),
    "blanks": "travel_mm load_N\n" + lines("{x:.6f}   {f:.6f}"),
    "quotes, a preamble and a unit row": '"machine: ours"\n"date","2026"\n\n"Time","Extension","Load"\n"(s)","(mm)","(N)"\n'
    + lines('"{t:.1f}","{x:.6f}","{f:.6f}"'),
    "quoted decimal commas between commas": '"Weg [mm]","Kraft [N]"\n'
    + "\n".join(f'"{x:.6f}","{f:.6f}"'.replace(".", ",") for x, f in zip(TRAVEL, LOAD, strict=True)),
    "metres and meganewtons": "Stroke [m];Force [MN]\n"
    + "\n".join(f"{x / 1000:.9f};{f / 1e6:.12f}" for x, f in zip(TRAVEL, LOAD, strict=True)),
    "a semicolon at the end of each row": "Travel [mm];Load [N];\n" + lines("{x:.6f};{f:.6f};"),
}  # fmt: skip


@pytest.mark.parametrize("manner", MANNERS)
def test_every_manner_of_writing_gives_the_same_record(manner):
    found = parse_record("a.csv", MANNERS[manner].encode())
    assert found.displacement == pytest.approx(TRAVEL, abs=1e-6)
    assert found.load == pytest.approx(LOAD, abs=1e-5)


def test_the_raw_record_is_known_by_the_hash_of_its_bytes():
    content = MANNERS["blanks"].encode()
    assert parse_record("a.csv", content).sha256 == hashlib.sha256(content).hexdigest()


def test_the_layout_is_shown_in_words():
    words = parse_record("a.csv", MANNERS["semicolons and decimal commas"].encode()).layout.words()
    assert words == (
        "2 header lines, delimiter ;, decimal ,, 3 columns: time = 'Zeit' [s], displacement = 'Weg' [mm], load = 'Kraft' [kN]"
    )


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "cp1252"])
def test_encodings_of_machines_are_read(encoding):
    text = "Prüfung in °C\nWeg [mm];Kraft [N]\n" + lines("{x:.6f};{f:.6f}")
    assert parse_record("a.csv", text.encode(encoding)).load == pytest.approx(LOAD, abs=1e-5)


def test_what_the_parameter_file_says_wins():
    text = "a;b\n" + lines("{f:.6f};{x:.6f}")
    given = RecordFormat(
        columns={"displacement": "b", "load": "a"}, units={"displacement": "cm", "load": "kN"}
    )
    found = parse_record("a.csv", text.encode(), given)
    assert found.displacement == pytest.approx(10 * TRAVEL, abs=1e-4)
    assert found.load == pytest.approx(1000 * LOAD, abs=1e-1)


def test_torsion_reads_twist_and_torque():
    text = "Twist [deg];Torque [N m]\n" + lines("{x:.6f};{f:.6f}")
    found = parse_record("a.csv", text.encode(), kind="torsion")
    assert found.displacement == pytest.approx(np.radians(TRAVEL), abs=1e-6)
    assert found.load == pytest.approx(1000 * LOAD, abs=1e-2)


REFUSED = {
    "no units": ("Travel;Load\n" + lines("{x:.6f};{f:.6f}"), "unit"),
    "exchanged units": ("Travel [N];Load [mm]\n" + lines("{x:.6f};{f:.6f}"), "exchanged"),
    "no titles": (lines("{x:.6f};{f:.6f}"), "record_format.columns"),
    "two displacements": ("Extension [mm];Crosshead [mm];Load [N]\n" + lines("{x:.4f};{x:.4f};{f:.4f}"), "say which"),
    "commas for all": ("Travel [mm],Load [N]\n" + lines("{x:.6f},{f:.6f}").replace(".", ","), "commas"),
    "grouped digits": ("Travel [mm];Load [N]\n" + "\n".join(f"1.{n:03d},5;2.{n:03d},5" for n in range(40)), "group"),
    "no numbers": ("Travel [mm];Load [N]\nnothing;here\n" * 9, "no block of numbers"),
    "not text": ("\x00\x01\x02" * 50, "not text"),
    "empty": ("", "no block of numbers"),
}  # fmt: skip


@pytest.mark.parametrize("what", REFUSED)
def test_what_cannot_be_told_is_refused_with_the_reason(what):
    text, reason = REFUSED[what]
    with pytest.raises(Unusable, match=reason):
        parse_record("a.csv", text.encode())


def test_a_missing_column_is_named_with_those_there_are():
    with pytest.raises(Unusable, match=r"'way'.*'Travel', 'Load'"):
        parse_record("a.csv", ("Travel [mm];Load [N]\n" + lines("{x:.4f};{f:.4f}")).encode(),
                     RecordFormat(columns={"displacement": "way"}))  # fmt: skip


def test_an_unknown_role_in_the_parameter_file_is_refused():
    with pytest.raises(InputError, match="record_format"):
        RecordFormat(columns={"sway": "x"})


@pytest.mark.parametrize(
    ("title", "role"),
    [("Force", "load"), ("Prüfkraft", None), ("Load cell", "load"), ("Elapsed time", "time"), ("Drehmoment", "torque"),
     ("Deflection", "displacement"), ("Verschiebung", "displacement"), ("Remark", None), ("F", "load")],
)  # fmt: skip
def test_titles_name_their_columns(title, role):
    assert role_of(title) == role


def test_a_stray_quote_costs_its_row_and_no_more():
    text = "Travel [mm];Load [N]\n" + lines("{x:.6f};{f:.6f}") + '\n"\n9.0;9.0\n'
    found = parse_record("a.csv", text.encode())
    assert found.load[-1] == 9.0
    assert found.load[: len(LOAD)] == pytest.approx(LOAD, abs=1e-5)
