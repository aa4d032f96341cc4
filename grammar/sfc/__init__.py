"""Sequential function charts in their textual form (IEC 61131-3, in part): tree and reader.

``read`` judges steps, transitions, actions and qualifiers; what stands in actions and conditions is structured text,
read as such. What a chart does is the compiler's business.
"""

from grammar.sfc.read import read

__all__ = ["read"]
