"""What drawings are made of: lines, boxes, texts and arrow heads at places, and how wide a text is.

No drawing of any one kind lives here, and no file format.
"""
