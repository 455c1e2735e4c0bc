"""The form is read with every fault named by line, and units come out as millimetres."""

from __future__ import annotations

import pytest

from kerf.errors import InputError
from kerf.readings import Axis, Kind, Side, parse_readings

HEAD = "# unit: {unit}\n# resolution: {resolution}\n"
COLUMNS = "feature,kind,axis,face,drawn mm,reading 1,reading 2,where\n"


def parse(*rows, unit="mm", resolution="0.01", extra="", columns=COLUMNS):
    text = HEAD.format(unit=unit, resolution=resolution) + extra + columns + "".join(rows)
    return parse_readings(text, name="r.csv")


def test_a_filled_row():
    got = parse('X60,outside,X,entry,60,59.79,59.80,"outside jaws, edge to edge"\n')
    (row,) = got.rows
    assert (row.kind, row.axis, row.face) == (Kind.OUTSIDE, Axis.X, Side.ENTRY)
    assert row.values_mm == (59.79, 59.80)
    assert row.mean_mm == pytest.approx(59.795)
    assert (row.line, got.resolution_mm) == (4, 0.01)


def test_inches_are_read_as_inches_and_drawn_stays_millimetres():
    got = parse("X60,outside,X,entry,60,2.354,,\n", unit="inch", resolution="0.0005")
    assert got.rows[0].values_mm[0] == pytest.approx(59.7916)
    assert got.rows[0].drawn_mm == 60
    assert got.resolution_mm == pytest.approx(0.0127)
    assert (
        parse("X60,outside,X,entry,60,2.354,,\n", unit="inch", resolution="0.01 mm").resolution_mm
        == 0.01
    )


def test_a_spreadsheet_with_semicolons_and_decimal_commas():
    text = (
        "# unit: mm;;;\n# resolution: 0,01;;;\n"
        + COLUMNS.replace(",", ";")
        + "X60;outside;X;entry;60;59,79;59,80;\n"
    )
    assert parse_readings(text, name="r.csv").rows[0].values_mm == (59.79, 59.80)


def test_head_notes_and_pins():
    got = parse(
        "X60,outside,X,entry,60,59.79,,\n",
        extra="# laser: CO2 60 W\n# measured on: 2025-03-31\n# accuracy: ±0.02\n"
        "# temperature: 21 °C\n# pin 6 enters hole drawn mm: 5.80\n# pin 8 enters hole drawn mm:\n",
    )
    assert (got.laser, got.measured_on, got.accuracy_mm) == ("CO2 60 W", "2025-03-31", 0.02)
    assert got.temperature_c == 21
    assert [(p.pin_mm, p.drawn_mm) for p in got.pins] == [(6.0, 5.8)]


def test_rows_left_empty_are_passed_over():
    got = parse("X60,outside,X,entry,60,,,\n", "X40,outside,X,entry,40,39.8,,\n")
    assert [r.feature for r in got.rows] == ["X40"]


@pytest.mark.parametrize(
    ("row", "words"),
    [
        ("X60,outside,entry,X,60,59.8,,\n", 'belongs under "face": the columns look exchanged'),
        ("X60,X,outside,entry,60,59.8,,\n", 'belongs under "axis"'),
        ("X60,outer,X,entry,60,59.8,,\n", "kind is"),
        ("X60,outside,X,entry,sixty,59.8,,\n", 'drawn mm is "sixty"'),
        ("X60,outside,X,entry,60,59.8 mm,,\n", "plain number above 0"),
        ("X60,outside,X,entry,60,-59.8,,\n", "plain number above 0"),
        ("X60,outside,X,entry,60,nan,,\n", "plain number above 0"),
    ],
)
def test_faults_are_named_with_line_and_hint(row, words):
    with pytest.raises(InputError) as fault:
        parse(row)
    assert words in fault.value.describe()
    assert "r.csv: line 4" in fault.value.describe()


def test_all_faults_in_one_run():
    with pytest.raises(InputError) as fault:
        parse(
            "X60,outer,X,entry,60,59.8,,\n",
            "X40,outside,Z,entry,40,39.8,,\n",
            unit="furlong",
            resolution="fine",
            extra="# measured on: yesterday\n# temperature: hot\n# pin 6 enters hole: 9\n",
        )
    text = fault.value.describe()
    for words in ("furlong", "fine", "yesterday", "hot", "pin 6", "kind is", "axis is"):
        assert words in text


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "holds no readings"),
        ("# unit: mm\n", "holds no readings"),
        ("feature,kind,axis,face,reading 1\n", "lacks: drawn mm"),
        ("feature,kind,axis,face,drawn mm\n", "lacks: reading 1"),
        (HEAD.format(unit="mm", resolution="0.01") + COLUMNS, "no reading is filled in"),
        (COLUMNS + "X60,outside,X,entry,60,59.8,,\n", "resolution of the instrument is missing"),
    ],
)
def test_files_that_hold_no_form(text, words):
    with pytest.raises(InputError) as fault:
        parse_readings(text, name="r.csv")
    assert words in fault.value.describe()
