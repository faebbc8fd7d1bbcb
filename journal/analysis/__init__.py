"""Numbers: pure functions, each with its source, and Analysis, which ties them together for one journal.

Opens no file and knows no clock: today's date is passed in.
"""
