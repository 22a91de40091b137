"""Groups of elements: glue, stray peaks, parallel compression, headroom."""
