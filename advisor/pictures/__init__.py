"""The pictures of the reports, drawn as SVG from numbers.

matplotlib is imported only when a picture is drawn.
"""
