"""CSV files: the long form, diaries, and whatever else people send."""

from __future__ import annotations

import io
import json
from zoneinfo import ZoneInfo

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from service.ingest.csv_log import Form, Notes, Options, recognise, rows
from service.ingest.errors import FileRefused
from service.ingest.mapping import columns_from
from service.ingest.rows import FileRow
from service.readings import Reading, Scope

SCOPE = Scope(zone=ZoneInfo("Europe/Lisbon"), burners=("ring", "hob"), digesters=("tank",), now_s=1_764_072_000)
LONG = "taken_at,quantity,value,unit,item,flame_pct,meal,note\n"
DIARY = {
    "Day": "date",
    "Gauge": "holder_level:%@07:30",
    "Dinner": "cooking:min:ring:dinner@19:00",
    "Scraps": "feed@08:00",
    "Remarks": "note",
}


def read(text: str | bytes, **options: object) -> tuple[Form, list[FileRow], Notes]:
    stream = io.BytesIO(text if isinstance(text, bytes) else text.encode())
    form = recognise(stream, Options(**options))
    notes = Notes()
    return form, list(rows(stream, form, SCOPE, notes)), notes


def readings(text: str | bytes, **options: object) -> list[Reading]:
    _, found, _ = read(text, **options)
    assert all(row.reading for row in found), [row.message for row in found]
    return [row.reading for row in found if row.reading]


def refusals(text: str | bytes, **options: object) -> list[tuple[str, str]]:
    _, found, _ = read(text, **options)
    return [(row.pointer, row.message) for row in found if row.reading is None]


def test_the_long_form_is_read_row_by_row() -> None:
    level, cooked = readings(
        LONG + '2025-11-20T07:30,holder_level,62,%,,,,"cold, clear"\n2025-11-20T19:30Z,cooking,35,min,ring,80,dinner,\n'
    )

    assert (level.quantity, level.value, level.unit, level.note) == ("holder_level", 62.0, "%", "cold, clear")
    assert (cooked.item, cooked.flame_pct, cooked.meal, cooked.note) == ("ring", 80.0, "dinner", "")
    assert cooked.recorded_s == SCOPE.now_s


def test_a_file_from_a_spreadsheet_is_read_the_same_with_comma_and_semicolon() -> None:
    point = "taken_at,quantity,value\r\n2025-11-20T08:00,feed,3.75\r\n"
    comma = "\ufefftaken_at;quantity;value\r\n2025-11-20T08:00;feed;3,75\r\n"
    tab = "taken_at\tquantity\tvalue\n2025-11-20T08:00\tfeed\t3.75\n"

    assert readings(point) == readings(comma) == readings(tab)
    assert read(comma)[0].decimal == ","
    assert readings(comma.replace("3,75", "3.75"), decimal=".") == readings(point)


@pytest.mark.parametrize(
    ("separator", "value"),
    [(";", "1.000"), (";", "1.000,5"), (";", "1 000"), (";", "3.75"), (",", '"1,000"'), (",", "1'000"), (",", "1_000"),
     (",", "nan"), (",", "inf"), (",", "0x10"), (",", "٣"), (",", "3kg"), (",", "--3")],
)  # fmt: skip
def test_thousands_separators_and_other_signs_are_never_guessed_at(separator: str, value: str) -> None:
    heading = separator.join(("taken_at", "quantity", "value"))
    row = separator.join(("2025-11-20T08:00", "feed", value))
    ((pointer, message),) = refusals(f"{heading}\n{row}\n")

    assert pointer == "/lines/2/value"
    assert "must be a number such as 1234" in message


@pytest.mark.parametrize(
    ("cell", "sure"),
    [("true", True), ("YES", True), ("1", True), ("false", False), ("No", False), ("0", False), ("", False)],
)
def test_a_column_may_say_which_readings_are_sure(cell: str, sure: bool) -> None:
    text = f"taken_at,quantity,value,unit,sure\n2025-11-20T08:00,holder_level,110,%,{cell}\n"
    diary = f"date,level,certain\n2025-11-20,110,{cell}\n"
    (long,) = readings(text)
    (wide,) = readings(diary, columns={"date": "date", "level": "holder_level:%@08:00", "certain": "sure"})

    assert long.sure is sure
    assert wide == long


def test_a_certainty_that_is_neither_is_not_guessed_at() -> None:
    found = refusals("taken_at,quantity,value,unit,sure\n2025-11-20T08:00,holder_level,110,%,perhaps\n")

    assert found == [("/lines/2/sure", "sure is 'perhaps', must be true or false")]


def test_an_unquoted_comma_in_a_number_does_not_shift_the_columns() -> None:
    ((pointer, message),) = refusals("taken_at,quantity,value\n2025-11-20T08:00,feed,3,75\n")

    assert pointer == "/lines/2"
    assert "the line has 4 cells, the heading 3" in message


def test_a_diary_is_mapped_to_readings() -> None:
    text = "Day;Gauge;Dinner;Scraps;Remarks;Mood\n13.01.2025;45,5;30;4,2;guests;fine\n02.02.2025;;25;;;\n\n;;;;;\n"
    form, found, notes = read(text, columns=DIARY)
    told = [(row.line, row.reading.quantity, row.reading.value, row.reading.note) for row in found if row.reading]

    assert told == [
        (2, "holder_level", 45.5, "guests"),
        (2, "cooking", 30.0, "guests"),
        (2, "feed", 4.2, "guests"),
        (3, "cooking", 25.0, ""),
    ]
    assert found[1].reading is not None and (found[1].reading.item, found[1].reading.meal) == ("ring", "dinner")
    assert found[1].reading.taken_s == 1_736_794_800  # 2025-01-13T19:00Z; Lisbon keeps UTC in winter
    assert form.layout.unread == ("Mood",)
    assert notes.at_noon == 0


def test_a_diary_without_times_is_read_at_noon_and_says_so() -> None:
    _, found, notes = read(
        "date,level\n2025-01-13,45\n2025-01-14,50\n", columns={"date": "date", "level": "holder_level:%"}
    )

    assert [row.reading.taken_s % 86_400 for row in found if row.reading] == [43_200, 43_200]
    assert notes.at_noon == 2


def test_headings_of_the_long_form_may_be_called_otherwise() -> None:
    text = "when,at,what,much\n2025-01-13,07:30,feed,4\n"
    (reading,) = readings(text, columns={"when": "date", "at": "time", "what": "quantity", "much": "value"})

    assert (reading.quantity, reading.value, reading.taken_s) == ("feed", 4.0, 1_736_753_400)


@pytest.mark.parametrize(
    ("heading", "columns", "pointer", "message"),
    [
        ("date,level", None, "/lines/1", "no column taken_at, quantity, value"),
        ("taken_at,quantity,value,colour", None, "/lines/1", "unknown column 'colour'"),
        ("taken_at,quantity,value,value", None, "/lines/1", "'value' stands twice"),
        ("", None, "/lines/1", "first line must name the columns"),
        ("a,b", {"c": "date"}, "/columns/c", "has no column 'c'; it has a, b"),
        ("a,b", {"a": "date", "b": "level:%"}, "/columns/b", "'level:%' is not understood"),
        ("a,b", {"a": "date", "b": "feed:kg:x:y:z"}, "/columns/b", "is not understood"),
        ("a,b", {"a": "date", "b": "feed@8 o'clock"}, "/columns/b", "is not understood"),
        ("a,b", {"a": "date", "b": "feed@25:30"}, "/columns/b", "is not understood"),
        ("a,b", {"a": "date", "b": "feed@7:99"}, "/columns/b", "is not understood"),
        ("a,b", {"a": "date", "b": "date"}, "/columns/b", "two columns are mapped to date"),
        ("a,b", {"a": "date", "b": "taken_at"}, "/columns", "either taken_at, or date and time"),
        ("a,b", {"b": "feed"}, "/columns", "no column is mapped to taken_at or date"),
        ("a,b", {"a": "date", "b": "note"}, "/columns", "no column holds values"),
        ("a,b,c", {"a": "date", "b": "feed", "c": "value"}, "/columns", "either quantity and value"),
    ],
)
def test_a_heading_or_mapping_that_does_not_fit_is_refused_with_the_way_out(
    heading: str, columns: dict[str, str] | None, pointer: str, message: str
) -> None:
    with pytest.raises(FileRefused, match=message) as refused:
        read(f"{heading}\n1,2,3,4\n", columns=columns)

    assert refused.value.pointer == pointer


@pytest.mark.parametrize("text", ["[1]", "{", '{"a": 1}', "null", "[" * 100_000])
def test_a_mapping_that_is_no_object_of_texts_is_refused(text: str) -> None:
    with pytest.raises(FileRefused, match="columns must be a JSON object"):
        columns_from(text)
    assert columns_from(None) is None
    assert columns_from(json.dumps(DIARY)) == DIARY


def test_every_row_that_cannot_be_so_is_told_with_its_line() -> None:
    text = LONG + (
        "2025-11-20T07:30,holder_level,-1,%,,,,\n"
        "2025-11-20T07:30,holder_level,1,gallons,,,,\n"
        "2035-11-20T07:30,feed,1,,,,,\n"
        "1925-11-20T07:30,feed,1,,,,,\n"
        "2025-11-20T07:30,cooking,1,,stove,,,\n"
        "2025-11-20T07:30,cooking,1,,,,,\n"
        "2025-03-30T01:30,feed,1,,,,,\n"
        "2025-11-20T07:30,fed,1,,,,,\n"
        "2025-11-20T07:30,feed,,,,,,\n"
        ",feed,1,,,,,\n"
        "2025-11-20T07:30,feed,1,,,,,a\x00b\n"
    )
    found = refusals(text)

    assert [pointer for pointer, _ in found] == [
        "/lines/2/value", "/lines/3/unit", "/lines/4/taken_at", "/lines/5/taken_at", "/lines/6/item", "/lines/7/item",
        "/lines/8/taken_at", "/lines/9/quantity", "/lines/10/value", "/lines/11/taken_at", "/lines/12/note",
    ]  # fmt: skip
    for (_, message), part in zip(
        found,
        ("must be 0 to 1000 %", "must be % or m3 or L", "in the future", "before the digester", "must be a burner that",
         "must name the burner: ring, hob", "never happened", "must be one of holder_level", "value is missing",
         "is no time", "control character"),
        strict=True,
    ):  # fmt: skip
        assert part in message


def test_a_line_that_is_not_utf8_or_not_csv_is_refused_and_the_next_one_read() -> None:
    rest = b"2025-11-20T08:00,feed,3\n"
    found = read(b"taken_at,quantity,value\n2025-11-20T07:00,feed\xe9,3\n" + rest)[1]
    assert [(row.line, row.reading is None) for row in found] == [(2, True), (3, False)]
    assert "UTF-8" in found[0].message
    found = read(b'taken_at,quantity,value\n"2025"x,feed,3\n' + rest)[1]
    assert [(row.line, row.reading is None) for row in found] == [(2, True), (3, False)]


def test_a_quote_that_swallows_lines_refuses_the_file_and_names_the_line() -> None:
    with pytest.raises(FileRefused, match="a quote opened in line 3"):
        read(LONG + "2025-11-20T08:00,feed,3,kg,,,,\n" + '2025-11-20T09:00,feed,3,kg,,,,"oh\n' * 2)


def test_a_file_without_line_ends_is_refused_before_it_fills_the_memory() -> None:
    with pytest.raises(FileRefused, match="longer than 65536 bytes"):
        read(b"x" * 1_000_000)


WILD = st.one_of(
    st.binary(max_size=300),
    st.text(max_size=200).map(str.encode),
    st.lists(
        st.sampled_from(
            [b"taken_at", b"quantity", b"value", b",", b";", b"\n", b"\r", b'"', b"2025-11-20", b"03/04/2025", b"feed",
             b"cooking", b"1,5", b"1.5", b"-1e999", b"\x00", b"\xff", b"\xef\xbb\xbf", b"date", b"%", b" "]
        ),
        max_size=40,
    ).map(b"".join),
    st.binary(max_size=200).map(lambda tail: LONG.encode() + b"2025-11-20T08:00,feed,3,kg,,,,\n" + tail),
)  # fmt: skip


@settings(max_examples=400, deadline=None)
@given(WILD)
@example(b"")
@example(b"\xff\xfet\x00a\x00")
@example(b'taken_at,quantity,value\n"')
@example(b"taken_at,quantity,value\n" + b"," * 70_000)
def test_whatever_bytes_come_the_answer_is_rows_or_a_refusal(body: bytes) -> None:
    try:
        _, found, _ = read(body)
    except FileRefused as refused:
        assert str(refused)
    else:
        assert all((row.reading is None) == bool(row.message) for row in found)


@settings(max_examples=100, deadline=None)
@given(WILD, st.dictionaries(st.sampled_from(["date", "value", ""]), st.text(max_size=20), max_size=3))
def test_whatever_mapping_comes_the_answer_is_rows_or_a_refusal(body: bytes, columns: dict[str, str]) -> None:
    try:
        read(body, columns=columns)
    except FileRefused as refused:
        assert refused.pointer.startswith("/") or not refused.pointer
