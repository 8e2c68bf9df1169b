"""Buying: which feed a quote is, what it costs landed, and which merchant serves these sheep."""
