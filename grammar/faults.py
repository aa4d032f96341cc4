"""What ``rungwright explain`` tells of messages about characters, quotes and brackets, before any words are read."""

from __future__ import annotations

from grammar.diagnostic import Entry, Severity

__all__ = ["ENTRIES"]

_F, _W = Severity.FAULT, Severity.WARNING

ENTRIES: tuple[Entry, ...] = (
    Entry(
        "RW001",
        _F,
        "The file is not text",
        "It holds characters that no text has, as pictures, archives and programs do.",
        "photo.jpg",
        "Check that it is the right file.",
    ),
    Entry(
        "RW002",
        _F,
        "The file is not UTF-8",
        "Letters beyond A to Z can be stored in many ways. Rungwright reads UTF-8, and UTF-16 where the file says so "
        "at its start. Older single-byte encodings can't be told apart, so they are not guessed.",
        "a file with the letter ö saved by an old editor",
        "Open the file in an editor and save it again with the encoding UTF-8.",
    ),
    Entry(
        "RW003",
        _F,
        "The file is too large",
        "A program of a thousand steps takes about a tenth of a megabyte. What is ten times larger is another file.",
        "video.seq",
        "Check that it is the right file.",
    ),
    Entry(
        "RW010",
        _F,
        "A text is not closed",
        "A text begins and ends with a double quote, on one line.",
        'machine "Hide press',
        "Close it on the same line.",
    ),
    Entry(
        "RW011",
        _W,
        "Tabs and blanks are mixed",
        "Where lines are indented with tabs in one place and blanks in another, two people see two shapes. A tab "
        "counts to the next multiple of four columns.",
        "cycle\n\textend until at-end\n    retract",
        "Indent with four blanks throughout; 'rungwright format' does it.",
    ),
    Entry(
        "RW012",
        _F,
        "A decimal comma",
        "A comma parts clauses, so it can't also stand in a number.",
        "hold 2,5 s",
        "Write 2.5 s.",
    ),
    Entry(
        "RW013",
        _F,
        "A letter of another alphabet in a Latin word",
        "Cyrillic and Greek have letters drawn just like Latin ones. Two names that look alike would be two devices.",
        "lamp L\u0410MP1",
        "Type the word again. Names wholly in another alphabet are welcome.",
    ),
    Entry(
        "RW014",
        _F,
        "A character nobody can see",
        "Zero-width and control characters come along when text is copied from a page. They make two names that look "
        "the same differ.",
        "extend PLA\u200bTEN",
        "Delete it, or type the word again.",
    ),
    Entry(
        "RW015",
        _F,
        "A character that hides what it does",
        "Some characters turn round the direction of what follows, so that a line is not read as it looks.",
        "cycle  # \u202e on",
        "Delete it.",
    ),
    Entry(
        "RW016",
        _F,
        "Brackets do not match",
        "Every bracket that opens closes on the same line.",
        "wait until (LS1 or LS2",
        "Add the missing bracket or delete the one too many.",
    ),
    Entry(
        "RW017",
        _F,
        "Nested too deep",
        "Nobody can read fifty brackets, or fifty 'not's, inside one another.",
        "wait until " + "(" * 51 + "LS1" + ")" * 51,
        "Drop brackets that say nothing, or part the condition into several steps.",
    ),
    Entry(
        "RW018",
        _W,
        "Nothing between two commas",
        "It changes nothing, but something may have been forgotten there.",
        "extend,, retract",
        "Delete one of the commas.",
    ),
    Entry(
        "RW019",
        _F,
        "Too many faults",
        "After a hundred faults reading stops: it is most likely the wrong file, or one fault brings all the others.",
        "\n".join(f"@{n}" for n in range(101)),
        "Check that it is the right file, or put the first faults right and try again.",
    ),
)
