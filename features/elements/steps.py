"""How finely an element's trace is kept.

Without what measures it, so that what is kept of elements can be read at no cost.
"""

CURVE_FRAMES = 16  # third octaves are kept every 0.37 s
STEP_S = 0.1
