"""Something to listen to.

Each step of the plan before and after it, and the mix with a marker at every finding.
"""
