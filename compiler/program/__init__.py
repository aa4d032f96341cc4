"""A structured text program as a Logic.

The statements are turned into Python once; a reaction runs that scan until nothing changes. What the text says is
read by grammar, what the machine's wires mean is settled here, and nothing here prints.
"""

from compiler.program.logic import ProgramLogic, program_logic

__all__ = ["ProgramLogic", "program_logic"]
