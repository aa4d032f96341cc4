"""The PDF of a sheet set, read back by a reader of its own (PDFium)."""

from __future__ import annotations

import ctypes
import re
from pathlib import Path

import pypdfium2
import pytest
from click.testing import CliRunner

from targets.choices import Paper
from targets.command_line import main
from targets.sheet_set import as_pdf, paper
from targets.target import CAUTION
from tests.sheet_set.made import EXAMPLES, NASTY, ONE_LINE, page_of, sheets_of


@pytest.fixture(scope="module")
def smallest() -> bytes:
    return as_pdf(sheets_of(ONE_LINE), Paper.A4)


def pages(pdf: bytes) -> list[str]:
    """The words of each page."""
    return [" ".join(page.get_textpage().get_text_bounded().split()) for page in pypdfium2.PdfDocument(pdf)]


def destinations(document: pypdfium2.PdfDocument, number: int) -> list[int]:
    """The pages that links on a page lead to."""
    raw, position, link = pypdfium2.raw, ctypes.c_int(0), pypdfium2.raw.FPDF_LINK()
    page, found = document[number], []  # the page must outlive what is asked of it
    while raw.FPDFLink_Enumerate(page.raw, ctypes.byref(position), ctypes.byref(link)):
        target = raw.FPDFLink_GetDest(document.raw, link) or raw.FPDFAction_GetDest(
            document.raw, raw.FPDFLink_GetAction(link)
        )
        found.append(raw.FPDFDest_GetDestPageIndex(document.raw, target))
    return found


def test_every_section_has_a_bookmark_in_the_order_of_the_page(smallest: bytes) -> None:
    sheets = sheets_of(ONE_LINE)
    expected = ["The sequence", "What was proved", "GRAFCET (IEC 60848)", "A cycle in charts"]
    expected += [circuit.name for circuit in sheets.circuits] + [text.name for text in sheets.texts]
    found = [one for one in pypdfium2.PdfDocument(smallest).get_toc() if one.level == 0]
    assert [one.get_title() for one in found] == expected
    places = [one.get_dest().get_index() for one in found]
    assert places == sorted(places)


def test_what_it_says_can_be_read_out(smallest: bytes) -> None:
    """Words of the program, names in a ladder sheet, a cell of every list and a line of structured text."""
    sheets, said = sheets_of(ONE_LINE), " ".join(pages(smallest))
    wanted = ["GRAFCET", "START", sheets.told[0], *(listed.title for listed in sheets.circuits[0].lists)]
    wanted += ["END_FUNCTION_BLOCK", *(section.title for section in sheets.circuits[0].told.sections)]
    wanted += [words for verdict in sheets.verdicts for words in (verdict.name, verdict.standing)]
    for words in wanted:
        assert " ".join(words.split()) in said


def test_drawings_can_be_searched_and_no_page_holds_a_title_block_alone(smallest: bytes) -> None:
    """Each page of a ladder sheet says the name of a coil beside the terminals of one, and the number of its rung."""
    sheets = [page for page in pages(smallest) if re.search(r"Ladder sheet \d+ of \d+ of", page)]
    assert len(sheets) >= 2
    assert any("CR2" in page for page in sheets)
    assert all(re.search(r"\bA1\b|\bSOL1\b", page) for page in sheets)


def test_it_says_whose_symbols_it_is_drawn_in(smallest: bytes) -> None:
    said = pages(smallest)[0]
    assert f"symbols of {sheets_of(ONE_LINE).style}" in said


def test_every_page_is_numbered_and_carries_the_caution(smallest: bytes) -> None:
    read = pages(smallest)
    for k, page in enumerate(read, 1):
        assert f"{k} of {len(read)}" in page
        assert CAUTION in page


@pytest.mark.parametrize(("size", "points"), [(Paper.A4, (595, 842)), (Paper.LETTER, (612, 792))])
def test_pages_are_of_the_paper_asked_for(size: Paper, points: tuple[int, int], smallest: bytes) -> None:
    """ISO 216 and ANSI sizes in points, upright or on their long side."""
    pdf = smallest if size is Paper.A4 else as_pdf(sheets_of(ONE_LINE), size)
    found = {tuple(round(v) for v in page.get_size()) for page in pypdfium2.PdfDocument(pdf)}
    assert points in found
    assert found <= {points, points[::-1]}


def test_rungs_and_moments_that_are_told_of_lead_to_their_drawings(smallest: bytes) -> None:
    """Links lead to pages that show them: as many as the page on the screen has to rungs and moments."""
    document, read = pypdfium2.PdfDocument(smallest), pages(smallest)
    contents = len([one for one in document.get_toc() if one.level == 0])
    told = len(re.findall(r'href="#[^"]*-(?:rung|moment)-', page_of(ONE_LINE)))
    found = [dest for k in range(len(read)) for dest in destinations(document, k)]
    assert len(found) == contents + told
    assert all(re.search("Ladder sheet|Timing chart", read[k]) for k in found[contents:])


def test_the_same_build_gives_the_same_bytes(smallest: bytes) -> None:
    assert as_pdf(sheets_of(ONE_LINE), Paper.A4) == smallest
    assert not pypdfium2.PdfDocument(smallest).get_metadata_value("CreationDate")


def test_names_stay_text_and_nothing_runs() -> None:
    """Typst markup, HTML and quotes in names come out as they were written; there is no script in the file."""
    pdf = as_pdf(sheets_of(NASTY), Paper.A4)
    said = "".join(pages(pdf)).replace("\u200b", "")
    assert "<script>alert(1)</script> & 'quotes' {{ braces }}" in said
    assert "#let $x$ = @y _under_ *star*" in said
    assert all(CAUTION in page for page in pages(pdf))
    objects = re.sub(rb"stream\r?\n.*?endstream", b"", pdf, flags=re.DOTALL)  # packed bytes may spell anything
    assert not re.search(rb"/(JavaScript|JS|Launch|OpenAction)\b", objects)


def test_it_is_tagged_in_its_language_and_titled(smallest: bytes) -> None:
    """ISO 32000-1, 14.7 to 14.9 (from memory)."""
    document = pypdfium2.PdfDocument(smallest)
    assert document.is_tagged()
    assert b"pdfuaid:part" in smallest  # PDF/UA-1, ISO 14289-1: checked as it is written
    assert b"/Lang(en)" in smallest.replace(b" ", b"")
    assert document.get_metadata_value("Title") == f"{sheets_of(ONE_LINE).title}: sheet set"


def test_no_word_reaches_over_the_margin() -> None:
    """Names without any place to break a line included."""
    for text in (ONE_LINE, NASTY):
        for page in pypdfium2.PdfDocument(as_pdf(sheets_of(text), Paper.LETTER)):
            wide, high = page.get_size()
            words = page.get_textpage()
            for k in range(words.count_rects()):
                left, bottom, right, top = words.get_rect(k)
                assert 33 <= left <= right <= wide - 33, words.get_text_bounded(left, bottom, right, top)
                assert 18 <= bottom <= top <= high - 18, words.get_text_bounded(left, bottom, right, top)


def test_the_command_writes_it(tmp_path: Path) -> None:
    asked = ["--arrangement", "on-delay", "--quick", "--pdf", "--paper", "letter"]
    made = CliRunner().invoke(main, ["build", str(EXAMPLES / "one-line.seq"), "-o", str(tmp_path), *asked])
    assert made.exit_code == 0, made.output
    assert (tmp_path / "index.pdf").read_bytes().startswith(b"%PDF")
    assert (tmp_path / "index.html").is_file()
    assert "index.pdf" in made.output


def test_what_is_missing_is_said_before_anything_is_built(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setattr(paper, "_PACKAGES", ("typst", "no_such_font"))
    wanted = CliRunner().invoke(main, ["build", str(EXAMPLES / "one-line.seq"), "-o", str(tmp_path), "--pdf"])
    assert wanted.exit_code == 2
    assert "pip install no-such-font" in wanted.output
    assert not list(tmp_path.iterdir())
    nowhere = CliRunner().invoke(main, ["build", str(EXAMPLES / "one-line.seq"), "--pdf"])
    assert nowhere.exit_code == 2
    assert "-o DIR" in nowhere.output
