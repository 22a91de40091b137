"""The song against its references and its earlier bounces."""
