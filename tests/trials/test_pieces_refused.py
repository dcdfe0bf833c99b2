"""The table of pieces: read with units, refused with line and column."""

import pytest

from kit.errors import InputError, Unusable
from kit.trials.coupons import Coupon
from kit.trials.pieces import read_pieces, record_file
from kit.trials.setups import as_measured
from tests.trials.pieces import section

HEAD = "piece,record,outline,orientation_deg,load_case,mass_kg,width,test,broke\n"


def written(folder, rows: str, head: str = HEAD):
    file = folder / "pieces.csv"
    file.write_text(head + rows, encoding="utf-8")
    return file


def test_columns_with_units_hold_numbers_and_others_hold_quantities(tmp_path):
    piece = read_pieces(written(tmp_path, "P1,a.csv,heron,90,bending,1.25,10.1 cm,,yes\n"))[0]
    assert (piece.mass_kg, piece.width_mm, piece.orientation_deg, piece.broke) == (1.25, 101.0, 90.0, True)
    assert piece.test == "member"
    assert piece.depth_mm is None


def test_semicolons_are_read_too(tmp_path):
    file = written(tmp_path, "P1;a.csv;heron;bending\n", "piece;record;outline;load_case\n")
    assert read_pieces(file)[0].outline == "heron"


@pytest.mark.parametrize(
    ("row", "words"),
    [
        ("P1,,heron,0,bending,1,,,\n", "record is empty"),
        ("P1,a.csv,heron,0,bending,heavy,,,\n", "mass_kg: 'heavy'"),
        ("P1,a.csv,heron,0,bending,-1,,,\n", "mass is -1"),
        ("P1,a.csv,heron,0,bending,nan,,,\n", "no number"),
        ('P1,a.csv,heron,0,bending,1,"1,5 cm",,\n', "decimal comma"),
        ("P1,a.csv,heron,0,bending,1,,iso 178,\n", "test 'iso 178'"),
        ("P1,a.csv,heron,0,bending,1,,,perhaps\n", "yes or no"),
        ("P1,a.csv,heron,0,bending,1,,,\nP1,b.csv,heron,0,bending,1,,,\n", "twice"),
        ("", "no pieces"),
    ],
)
def test_what_is_wrong_is_said_with_its_line(tmp_path, row, words):
    with pytest.raises(InputError, match=words) as refused:
        read_pieces(written(tmp_path, row))
    assert "pieces.csv" in str(refused.value)


def test_a_missing_column_and_a_missing_file_are_said(tmp_path):
    with pytest.raises(InputError, match="load_case"):
        read_pieces(written(tmp_path, "P1,a.csv,heron\n", "piece,record,outline\n"))
    with pytest.raises(InputError, match="no file"):
        read_pieces(tmp_path / "none.csv")


@pytest.mark.parametrize("record", ["../secret.csv", "/etc/hostname", "a/../../b.csv"])
def test_records_outside_the_folder_of_the_table_are_not_opened(tmp_path, record):
    piece = read_pieces(written(tmp_path, f"P1,{record},heron,0,bending,1,,,\n"))[0]
    with pytest.raises(Unusable, match="outside"):
        record_file(piece, tmp_path)


def test_a_link_out_of_the_folder_is_not_followed(tmp_path):
    inside = tmp_path / "in"
    inside.mkdir()
    (tmp_path / "secret.csv").write_text("x")
    (inside / "a.csv").symlink_to(tmp_path / "secret.csv")
    piece = read_pieces(written(inside, "P1,a.csv,heron,0,bending,1,,,\n"))[0]
    with pytest.raises(Unusable, match="outside"):
        record_file(piece, inside)


@pytest.mark.parametrize(
    ("sizes", "words"),
    [
        ((10, 4, 40), "span ÷ depth"),
        ((3, 4, 64), "edge"),
        ((0, 4, 64), "above zero"),
        ((25, 4, 64), "quarter"),
    ],
)
def test_coupons_outside_their_standard_get_no_value(sizes, words):
    with pytest.raises(Unusable, match=words):
        Coupon("astm-d790", *map(float, sizes))


def test_the_preferred_coupon_of_iso_178_is_inside_its_scope():
    assert Coupon("iso-178", 10.0, 4.0, 64.0).span_mm == 64.0


def test_a_measured_size_stretches_the_section_and_another_piece_is_refused():
    """A rectangle's I goes with b h³: exact for every outline that is stretched both ways."""
    drawn = section()
    changed = as_measured(drawn, drawn["width_mm"] * 1.01, drawn["depth_mm"] * 0.99)
    assert changed["Ix_mm4"] == pytest.approx(drawn["Ix_mm4"] * 1.01 * 0.99**3)
    assert changed["area_mm2"] == pytest.approx(drawn["area_mm2"] * 1.01 * 0.99)
    with pytest.raises(ValueError, match="more than 5 %"):
        as_measured(drawn, drawn["width_mm"] * 1.2, None)
