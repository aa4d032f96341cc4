"""Words, not machines: the three languages Rungwright reads, and how a fault in them is told.

Each folder is one language (sequence, rungs, structured_text) with its lark grammar, a tree of small frozen
nodes that carry source spans, and a reader. Nothing here knows what a cylinder does, and no name outside this
package mentions lark.
"""
