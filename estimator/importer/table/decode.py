"""From bytes to lines of text or rows of cells: archives, encodings, spreadsheets; memory is bounded."""

from __future__ import annotations

import bz2
import codecs
import gzip
import io
import re
import unicodedata
import zipfile
import zlib
from collections.abc import Iterator
from datetime import timedelta
from typing import Any

from estimator.errors import InputError

MAX_BYTES = 1_000_000_000
"""Bytes; a year of readings each second takes less."""
_MOST_COLUMNS, _MOST_EMPTY = 1000, 5000  # columns that are read; empty rows that end a sheet; bound the work
_MOST_CELLS = 600_000
"""Bounds the time for a spreadsheet: a million cells took 19 s on a busy machine."""
_LONGEST_LINE = 1 << 20
"""Bytes; a line of readings has hundreds, not a million."""
_PACKED_BYTES, _PACKED_TIMES = 100_000_000, 200
"""A log packs to a hundredth of its size at best; more, beyond so many bytes, is made to fill the memory."""
_NO_TEXT = re.compile(rb"[\x01-\x08\x0e-\x1a\x1c-\x1f]")
_BOMS = (
    (codecs.BOM_UTF8, "utf-8"),
    (codecs.BOM_UTF32_LE, "utf-32"),
    (codecs.BOM_UTF32_BE, "utf-32"),
    (codecs.BOM_UTF16_LE, "utf-16"),
    (codecs.BOM_UTF16_BE, "utf-16"),
)
_ELSEWHERE = (
    ("shift_jis", "電流|電圧|日時|時刻|時間"),
    ("gb18030", "电流|电压|時間|时间|日期"),
    ("big5", "電流|電壓|時間|日期"),
    ("euc_kr", "전류|전압|시간"),
    ("cp1251", "(?i)напряжение|напруга|ток\\b|время"),
    ("cp1250", "(?i)napięcie|prąd|napětí|čas\\b|feszültség|áramerősség"),
)
"""Encodings of text that is neither Unicode nor Western, and words of titles that only they decode to."""
_FOREIGN = (
    (b"%PDF", "a PDF"),
    (b"\xd0\xcf\x11\xe0", "an old spreadsheet (.xls)"),
    (b"\x89PNG", "a picture"),
    (b"\xff\xd8\xff", "a picture"),
    (b"SQLite format 3", "a database"),
    (b"7z\xbc\xaf", "a 7z archive"),
    (b"Rar!", "a rar archive"),
    (b"\xfd7zXZ", "an archive (.xz)"),
    (b"\x28\xb5\x2f\xfd", "an archive (.zst)"),
)
_PACKED = ((b"\x1f\x8b", "gzip", gzip.open), (b"BZh", "bzip2", bz2.open))


def unpack(data: bytes, max_bytes: int = MAX_BYTES) -> bytes:
    """The content of a file, decompressed where it is gzip, bzip2 or the only file in a zip.

    Raises InputError where it is larger than `max_bytes` [bytes].

    >>> import gzip
    >>> unpack(gzip.compress(b"time_s"))
    b'time_s'
    """
    _refuse_large(len(data), max_bytes)
    for magic, what in _FOREIGN:
        if data.startswith(magic):
            raise InputError(f"is {what}, not a table", mend="export the readings as .csv or .xlsx")
    max_bytes = min(max_bytes, max(_PACKED_BYTES, _PACKED_TIMES * len(data)))
    if data.startswith(b"PK\x03\x04"):
        data = _only_one_in(data, max_bytes)
    for magic, kind, opens in _PACKED:
        if data.startswith(magic):
            try:
                with opens(io.BytesIO(data)) as packed:
                    data = packed.read(max_bytes + 1)
            except (EOFError, zlib.error, OSError) as fault:
                what = "cut short" if isinstance(fault, EOFError) else "damaged"
                raise InputError(f"{kind} file is {what}", mend="copy it from the meter again") from None
            _refuse_large(len(data), max_bytes)
    return data


def _only_one_in(data: bytes, max_bytes: int) -> bytes:
    """The only file in a zip archive; a spreadsheet, which is such an archive too, stays as it is."""
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            if "[Content_Types].xml" in archive.namelist():
                return data
            if "content.xml" in archive.namelist():
                raise InputError("is a spreadsheet (.ods)", mend="save it as .xlsx or .csv")
            parts = [
                x for x in archive.infolist() if not x.is_dir() and not re.search(r"(^|/)[._]", x.filename)
            ]
            locked = len(parts) == 1 and parts[0].flag_bits & 1
            if locked or len(parts) != 1:
                what = "an archive with a password" if locked else f"a zip archive of {len(parts)} files"
                raise InputError(f"is {what}", mend="unpack it, and give the file with the readings")
            _refuse_large(parts[0].file_size, max_bytes)
            return archive.read(parts[0])
    except (zipfile.BadZipFile, zlib.error, NotImplementedError, EOFError):
        raise InputError("is a damaged spreadsheet or archive", mend="copy it from the meter again") from None


def _refuse_large(size: int, max_bytes: int) -> None:
    if size > max_bytes:
        mend = "split it, or log at a longer interval"
        raise InputError(f"holds more than {max_bytes / 1e6:.3g} MB", mend=mend)


def encoding_of(data: bytes) -> str:
    """The encoding of a text: by its byte order mark or the zeros of UTF-16, else UTF-8, by words, or cp1252.

    >>> encoding_of("µA".encode("cp1252")), encoding_of("A".encode("utf-16")), encoding_of("µ".encode())
    ('cp1252', 'utf-16', 'utf-8')
    """
    for bom, encoding in _BOMS:
        if data.startswith(bom):
            return encoding
    head = data[:4096]
    if b"\x00" in head and len(head) >= 4:
        evens, odds = head[::2].count(0), head[1::2].count(0)
        if max(evens, odds) > 0.4 * len(head) / 2 and min(evens, odds) < 0.05 * len(head):
            return "utf-16-le" if odds > evens else "utf-16-be"
    if data.isascii():
        return "utf-8"
    try:
        data.decode("utf-8")
    except UnicodeDecodeError as e:
        if e.start >= len(data) - 3 and e.reason == "unexpected end of data":
            return "utf-8"
        # Nearly every byte is a letter in each of them, so only known words of titles show which one it is.
        return next((x for x, words in _ELSEWHERE if re.search(words, head.decode(x, "ignore"))), "cp1252")
    return "utf-8"


def as_utf8(data: bytes) -> tuple[bytes, str]:
    """The text as UTF-8 with plain line feeds, and the encoding it had.

    >>> as_utf8(b"\\xef\\xbb\\xbfa;b\\r\\n1;2\\r3;4")
    (b'a;b\\n1;2\\n3;4', 'utf-8')
    """
    encoding = encoding_of(data)
    if encoding == "utf-8":
        data = data.replace(codecs.BOM_UTF8, b"")
    else:
        try:
            data = data.decode(encoding, errors="replace").lstrip("\ufeff").encode("utf-8", errors="replace")
        except UnicodeError:
            raise InputError("is not text", mend="export the readings as .csv") from None
    if not data.isascii():
        data = _plain_digits(data)
    # A logger that loses its supply leaves the rest of its block empty; some pad every record with zeros.
    data = re.sub(rb"(?<=\n)\x00+", b"", data.rstrip(b"\x00"))
    head = data[: 1 << 16]
    if len(_NO_TEXT.findall(head)) > 0.02 * len(head):
        raise InputError("is not text", mend="export the readings as .csv")
    if b"\x00" in data:
        if data.count(b"\x00") > 0.02 * len(data):
            raise InputError("is not text", mend="export the readings as .csv")
        data = data.replace(b"\x00", b"")
    if b"\r" in data:
        data = re.sub(rb"\r+\n", b"\n", data).replace(b"\r", b"\n")
    _refuse_long_lines(data)
    return data, encoding


def _plain_digits(data: bytes) -> bytes:
    """Digits and decimal marks of other scripts turned into plain ones."""
    head = data[:4096].decode("utf-8", "replace")
    if not any(letter.isdecimal() and not letter.isascii() for letter in head):
        return data
    text = data.decode("utf-8", "replace")
    told = {ord(x): str(unicodedata.decimal(x)) for x in set(text) if x.isdecimal() and not x.isascii()}
    return text.translate(told | {0x66B: "."}).encode("utf-8", "replace")


def _refuse_long_lines(data: bytes) -> None:
    at, row = 0, 1
    while len(data) - at > _LONGEST_LINE:
        end = data.rfind(b"\n", at, at + _LONGEST_LINE)
        if end < 0:
            row += data.count(b"\n", 0, at)
            raise InputError("line is longer than 1 MB", row=row, mend="export the readings as .csv")
        at = end + 1


def _cell_text(value: object) -> str:
    if isinstance(value, float):
        return repr(int(value)) if value == int(value) and abs(value) < 1e15 else repr(value)
    if isinstance(value, timedelta):
        total = value.total_seconds()
        return f"{int(total // 3600)}:{int(total % 3600 // 60):02d}:{total % 60:06.3f}"
    return "" if value is None else str(value).replace("\r", " ").replace("\n", " ")


def _sheet_rows(sheet: Any, most: int) -> list[list[str]]:
    """The rows of a sheet; cells are counted while reading, since a small file may hold billions."""
    # The size that a sheet states reaches to its furthest cell, even if that stands alone.
    sheet.reset_dimensions()
    rows: list[list[str]] = []
    empty = cells = 0
    for row in sheet.iter_rows(values_only=True):
        texts = [_cell_text(v) for v in row[:_MOST_COLUMNS]]
        while texts and not texts[-1]:
            texts.pop()
        empty = 0 if texts else empty + 1
        if empty > _MOST_EMPTY:
            break
        cells += len(row)
        if cells > most:
            mend = "save only the columns of the log, as .csv"
            raise InputError(f"sheet {sheet.title!r} holds over {most} cells", mend=mend)
        rows.append(texts)
    while rows and not rows[-1]:
        rows.pop()
    return rows


def spreadsheet_rows(data: bytes, max_bytes: int = MAX_BYTES) -> Iterator[tuple[str, list[list[str]]]]:
    """Name and rows of each sheet of an .xlsx file as texts, sheet after sheet.

    Needs openpyxl (the extra `xlsx`); a file that unpacks to more than `max_bytes` is refused unopened.
    """
    mend = "save it as .csv"
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            _refuse_large(sum(part.file_size for part in archive.infolist()), max_bytes)
    except zipfile.BadZipFile:
        raise InputError("is a damaged spreadsheet", mend=mend) from None
    try:
        import openpyxl
    except ImportError:
        raise InputError("is a spreadsheet, and openpyxl is not installed", mend=mend) from None
    try:
        book = openpyxl.load_workbook(io.BytesIO(data), read_only=True, data_only=True)
        for sheet in book.worksheets:
            yield sheet.title, _sheet_rows(sheet, min(_MOST_CELLS, 200_000 + 2 * len(data)))
        book.close()
    except InputError:
        raise
    except Exception:
        # openpyxl lets any error of its XML reader through: KeyError, ValueError, ParseError, ...
        raise InputError("is a damaged spreadsheet", mend=mend) from None
