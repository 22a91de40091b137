"""The pictures of the reports, drawn from their numbers.

matplotlib is imported only when a picture is drawn.
"""
