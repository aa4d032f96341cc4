"""Words that structured text keeps for itself, so that no machine device may bear them there.

IEC 61131-3:2003 Annex C, the additions of the third edition's grammar, the standard types, functions and blocks
with their pins, and the operators of the instruction list (all from memory). A word too many here costs an
escaped name; a word too few costs a program that does not translate.
"""

from __future__ import annotations

__all__ = ["KEYWORDS", "RESERVED", "is_keyword", "is_reserved"]

_KEYWORDS = """
ACTION END_ACTION ARRAY OF AT CASE ELSE END_CASE CONFIGURATION END_CONFIGURATION CONSTANT EN ENO EXIT FALSE F_EDGE
FOR TO BY DO END_FOR FUNCTION END_FUNCTION FUNCTION_BLOCK END_FUNCTION_BLOCK IF THEN ELSIF END_IF INITIAL_STEP
END_STEP NOT MOD AND XOR OR PROGRAM WITH END_PROGRAM R_EDGE READ_ONLY READ_WRITE REPEAT UNTIL END_REPEAT RESOURCE
ON END_RESOURCE RETAIN NON_RETAIN RETURN STEP STRUCT END_STRUCT TASK TRANSITION FROM END_TRANSITION TRUE TYPE
END_TYPE VAR END_VAR VAR_INPUT VAR_OUTPUT VAR_IN_OUT VAR_TEMP VAR_EXTERNAL VAR_ACCESS VAR_CONFIG VAR_GLOBAL WHILE
END_WHILE
"""

_THIRD_EDITION = """
ABSTRACT CLASS END_CLASS CONTINUE EXTENDS FINAL IMPLEMENTS INTERFACE END_INTERFACE INTERNAL METHOD END_METHOD
NAMESPACE END_NAMESPACE NULL OVERLAP OVERRIDE PRIVATE PROTECTED PUBLIC REF REF_TO SUPER THIS USING INTERVAL
PRIORITY SINGLE
"""

_TYPES = """
BOOL BYTE WORD DWORD LWORD SINT INT DINT LINT USINT UINT UDINT ULINT REAL LREAL TIME LTIME DATE LDATE TIME_OF_DAY
TOD LTIME_OF_DAY LTOD DATE_AND_TIME DT LDATE_AND_TIME LDT STRING WSTRING CHAR WCHAR ANY ANY_DERIVED ANY_ELEMENTARY
ANY_MAGNITUDE ANY_NUM ANY_REAL ANY_INT ANY_SIGNED ANY_UNSIGNED ANY_BIT ANY_STRING ANY_CHAR ANY_CHARS ANY_DURATION
ANY_DATE
"""

_FUNCTIONS = """
ABS SQRT LN LOG EXP SIN COS TAN ASIN ACOS ATAN ATAN2 ADD SUB MUL DIV EXPT MOVE SHL SHR ROL ROR SEL MAX MIN LIMIT
MUX GT GE EQ LE LT NE LEN LEFT RIGHT MID CONCAT INSERT DELETE REPLACE FIND TRUNC ROUND
"""

_BLOCKS = """
SR RS R_TRIG F_TRIG CTU CTD CTUD TP TON TOF RTC SEMA
"""

_PINS = """
S S1 R R1 Q Q1 QU QD CLK CU CD PV CV LD IN PT ET
"""

_INSTRUCTION_LIST = """
LDN ST STN ANDN ORN XORN JMP JMPC JMPCN CAL CALC CALCN RET RETC RETCN
D N P L SD DS SL P0 P1 T
"""

KEYWORDS: frozenset[str] = frozenset(" ".join((_KEYWORDS, _THIRD_EDITION, _TYPES, _FUNCTIONS, _BLOCKS)).split())
"""Words no program may use as a name, in capitals. Pins and instruction list operators are only risky."""

RESERVED: frozenset[str] = KEYWORDS | frozenset(f"{_PINS} {_INSTRUCTION_LIST}".split())
"""All reserved words, in capitals. The conversion families ``x_TO_y`` and ``TO_y`` are a rule, not a list."""

_CONVERTED = frozenset(_TYPES.split()) | {"BCD"}


def is_reserved(name: str) -> bool:
    """Whether structured text keeps a name for itself, letter case ignored, or a program had better not use it."""
    return name.upper() in RESERVED or is_keyword(name)


def is_keyword(name: str) -> bool:
    """Whether a program that uses the name is faulty: a key word, type, function or block, letter case ignored."""
    word = name.upper()
    if word in KEYWORDS:
        return True
    before, to, after = word.rpartition("TO_")
    return bool(to) and after in _CONVERTED and (not before or before.removesuffix("_") in _CONVERTED)
