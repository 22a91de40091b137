"""The pictures of the reports, drawn from their numbers as SVG.

matplotlib is imported only when a picture is drawn.
"""
