"""Numbers: pure functions, each with its source. Opens no file and knows no clock: today's date is passed in."""
