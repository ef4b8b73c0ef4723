"""How answers are worded: numbers, figures, how sure, sentences; for pages and terminal."""
