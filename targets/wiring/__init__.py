"""The wires behind a rung list: points that are electrically one, terminals, and the lists a panel is wired from.

Everything here comes from a circuit as read back from its printed text. It draws nothing and decides nothing about
what a circuit does; ``targets/ladder_sheet`` draws it.
"""
