"""Both sides of the limits at which lines that are no table are taken for one of the forms of readings."""

from __future__ import annotations

from collections.abc import Sequence

import pytest

from estimator.importer.table.json_text import Rows, from_document
from estimator.importer.table.loose_lines import loosened, stacked
from estimator.importer.table.markup import from_dump, from_html, from_print, with_dates


def forms(lines: Sequence[str]) -> dict[str, Rows]:
    return dict(loosened(lines))


def measurements(count: int, names: Sequence[str], extra: int = 0) -> list[list[str]]:
    """Rows of a clock, a name in turn at each instant, a number, and columns that say nothing."""
    n = len(names)
    return [
        [f"10:{k // n // 60:02d}:{k // n % 60:02d}", names[k % n], str(50 + 7 * k % 11), *["x"] * extra]
        for k in range(count)
    ]


JOINED = "One measurement per line: lines of one instant are joined."


def joined(rows: Sequence[Sequence[str]]) -> Rows:
    return forms([";".join(row) for row in rows]).get(JOINED, [])


@pytest.mark.parametrize(
    ("count", "names", "extra", "found"),
    [
        (6, 2, 0, True), (5, 2, 0, False), (40, 2, 5, True), (40, 2, 6, False), (90, 30, 0, True),
        (93, 31, 0, False),
    ],
)  # fmt: skip
def test_one_measurement_a_line_is_known_by_six_lines_of_up_to_eight_cells(
    count, names, extra, found
) -> None:
    told = [f"n{chr(97 + k % 26)}{chr(97 + k // 26)}" for k in range(names)]
    rows = joined(measurements(count, told, extra))
    assert bool(rows) == found
    if found:
        assert rows[0] == ["time", *told]
        assert rows[1] == ["10:00:00", *(str(50 + 7 * k % 11) for k in range(names))]
        assert len(rows) == 1 + count // names


@pytest.mark.parametrize(("words", "found"), [(7, True), (8, False)])
def test_more_than_six_of_ten_values_are_numbers(words: int, found: bool) -> None:
    rows = measurements(22, ["u", "i"])  # the first line may hold titles: 21 are looked at, a third is 7
    for row in rows[2 : 2 + words]:
        row[2] = "lost"
    rows[1][2] = rows[1][2] if words == 7 else "lost"
    assert bool(joined(rows)) == found


@pytest.mark.parametrize(("numbers", "found"), [(2, True), (3, False)])
def test_under_a_tenth_of_the_names_are_numbers(numbers: int, found: bool) -> None:
    rows = measurements(22, ["u", "i"])
    for row in rows[2 : 2 + numbers]:
        row[1] = "7"
    assert bool(joined(rows)) == found


def test_units_of_a_column_go_into_the_titles_and_comments_are_left_out() -> None:
    rows = [
        [stamp, {"u": "V", "w": "V", "i": "mA"}[name], name, value]
        for stamp, name, value in measurements(9, ["u", "i", "w"])
    ]
    found = joined([["#group", "string", "x", "y"], *rows])
    assert found[:2] == [["time", "u [V]", "i [mA]", "w [V]"], ["10:00:00", "50", "57", "53"]]


def test_one_name_after_the_other_is_joined_by_dates_in_order() -> None:
    stamps = [f"2026-05-03 10:00:{k:02d}" for k in range(5, 10)]
    told = {stamp: str(50 + 7 * k % 11) for k, stamp in enumerate(stamps)}
    lines = [f"{stamp},{name},{told[stamp]}" for name in ("u", "i") for stamp in reversed(stamps)]
    assert forms(lines)[JOINED] == [["time", "u", "i"], *([s, told[s], told[s]] for s in stamps)]


@pytest.mark.parametrize(("lost", "found"), [(3, True), (4, False)])
def test_seven_of_ten_lines_have_the_form(lost: int, found: bool) -> None:
    lines = [f'{{"t": {k}, "u": 52.{k}}}' for k in range(10 - lost)] + ["who knows"] * lost
    said = f"Lines of JSON. {lost} lines hold no reading: left out."
    assert (said in forms(lines)) == found
    if found:
        assert forms(lines)[said][:2] == [["t", "u"], ["0", "52.0"]]


@pytest.mark.parametrize(("bare", "marks", "found"), [(3, 2, True), (4, 2, False), (0, 1, False)])
def test_lines_in_quotes_hold_three_cells_or_more(bare: int, marks: int, found: bool) -> None:
    lines = [f'"{k}{";1" * marks}"' for k in range(10 - bare)] + ["x"] * bare
    rows = forms(lines).get("Each line is in quotes.", [])
    assert bool(rows) == found and (not found or rows[1] == ["1", "1", "1"])


@pytest.mark.parametrize(
    ("readings", "lines", "found"), [(10, 2, True), (9, 2, False), (10, 60, True), (10, 61, False)]
)
def test_a_table_on_its_side_has_two_long_lines_and_few_others(
    readings: int, lines: int, found: bool
) -> None:
    told = ["t [s];" + ";".join(map(str, range(readings))), "U [V];" + ";".join(["52.1"] * readings)]
    rows = forms([*told, *[f"remark {k}" for k in range(lines - 2)]]).get(
        "The table lies on its side: turned.", []
    )
    assert bool(rows) == found and (not found or rows[:2] == [["t [s]", "U [V]"], ["0", "52.1"]])


def test_a_table_on_its_side_is_all_that_the_file_holds() -> None:
    long = ["t [s];" + ";".join(map(str, range(12))), "U [V];" + ";".join(["52.1"] * 12)]
    assert "The table lies on its side: turned." not in forms([*long, *[""] * 60, *["and more"] * 9])


@pytest.mark.parametrize(("others", "found"), [(4, True), (5, False)])
def test_a_name_and_value_a_line_in_six_of_ten_lines(others: int, found: bool) -> None:
    rows = stacked(
        ["u: 52.1", "i: 9", "u: 52.0", "i: 8", "u: 51", "i: 7"] + ["of the shed and of the reel!"] * others
    )
    assert rows == ([["u", "i"], ["52.1", "9"], ["52.0", "8"], ["51", "7"]] if found else [])


def test_values_without_names_are_known_by_what_their_unit_measures() -> None:
    lines = [f"{k}s 52.{k}V {900 + k}mA 20.1C" for k in range(8)]
    rows = forms(lines)["No titles: numbers are known by their units."]
    assert rows[:2] == [["time", "voltage", "current", "temperature"], ["0 s", "52.0 V", "900 mA", "20.1 C"]]
    assert forms([f"{k}s 52.{k}V 13.{k}V OLA" for k in range(8)])[
        "No titles: numbers are known by their units."
    ][:2] == [["time", "voltage", "voltage again", "current"], ["0 s", "52.0 V", "13.0 V", "OL A"]]


@pytest.mark.parametrize(
    ("text", "rows"),
    [
        ('[{"t": 0, "b": {"u": 52}}, {"t": 1, "b": {"u": 51}}]', [["t", "b u"], ["0", "52"], ["1", "51"]]),
        ('{"log": {"rows": [{"t": 0, "u": 52}, {"t": 1, "u": 51}]}}', [["t", "u"], ["0", "52"], ["1", "51"]]),
        ('{"names": ["t", "u"], "rows": [[0, 52], [1, 51]]}', [["t", "u"], ["0", "52"], ["1", "51"]]),
        ('{"names": ["t", "u"], "rows": [[0, 52, 1], [1, 51, 1]]}', []),
        ('{"t": [0, 1], "u": [52, 51]}', [["t", "u"], ["0", "52"], ["1", "51"]]),
        ('{"t": [0, 1], "u": [52, 51, 50]}', []), ('{"t": [0, 1]}', []), ('{"t": 0, "u": 52}', []),
        ("[1, 2", []),
        ('[{"n": "u", "points": [[0, 52], [1, 51]]}, {"n": "i", "points": [[0, 9], [1, 8]]}]',
         [["u", "0", "52"], ["u", "1", "51"], ["i", "0", "9"], ["i", "1", "8"]]),
        ('[{"t": 0, "on": true, "u": 52}, {"t": 1, "on": false, "u": 51}]',
         [["t", "u"], ["0", "52"], ["1", "51"]]),
    ],
)  # fmt: skip
def test_the_readings_of_one_document(text: str, rows: Rows) -> None:
    assert from_document([text]) == rows


@pytest.mark.parametrize(("others", "found"), [(5, True), (6, False)])
def test_a_print_has_half_its_lines_in_columns(others: int, found: bool) -> None:
    page = [f"{k}  52.{k}   {'' if k == 2 else 9}" for k in range(5)] + ["  sheds"] * others
    rows = from_print(page)
    assert rows[1:3] == ([["1", "52.1", "9"], ["2", "52.2", ""]] if found else [])


@pytest.mark.parametrize("page", [[f"{k}  52.{k}  9" for k in range(4)], [f"{k}  52.{k}" for k in range(9)],
                                  [f"{k}\t52.{k}  9" for k in range(9)]])  # fmt: skip
def test_four_lines_two_columns_or_tabs_are_no_print(page: list[str]) -> None:
    assert from_print(page) == []


def test_a_word_of_a_print_belongs_to_the_nearest_column() -> None:
    page = ["time   volts    amps", *(f"{k:4}   {52.1:5}    {9:4}" for k in range(10, 16))]
    assert from_print(page)[:2] == [["time", "volts", "amps"], ["10", "52.1", "9"]]


@pytest.mark.parametrize(("plain", "found"), [(2, True), (3, False)])
def test_seven_of_ten_lines_hold_a_date_with_a_comma(plain: int, found: bool) -> None:
    lines = ["May 3, 2026 10:00:01,9,52"] * (10 - plain) + ["1,2"] * plain
    assert (with_dates(lines)[:1] == [["May 3 2026 10:00:01", "9", "52"]]) == found


def test_the_longest_table_of_a_page_and_of_a_dump() -> None:
    page = "<table><tr><td>x</table><table><tr><th>t<th>u</tr><tr><td>0</td><td>52&nbsp;V</td></tr></table>"
    assert from_html([page]) == [["t", "u"], ["0", "52\xa0V"]]
    dump = ["INSERT INTO a (x) VALUES (1);", "INSERT INTO b (t, u) VALUES (0, '52,1'),", "(1, '52,0');"]
    assert from_dump(dump) == [["t", "u"], ["0", "52,1"], ["1", "52,0"]]
    assert from_dump(["COPY b (t, u) FROM stdin;", "0\t52.1", "\\.", "x"])[:2] == [["t", "u"], ["0", "52.1"]]
