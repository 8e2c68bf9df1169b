"""Plots of results as SVG text: one look, no script, the same data beside each as a table.

Each function takes result records and gives a `Plot`; nothing is worked out here. Pictures have
no fixed width: they fill what they stand in, the same bytes from the same records. Words and axes
take the colour of the page; `style.CSS` has the few lines a page needs.
"""
