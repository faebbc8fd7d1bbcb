"""Numbers: pure functions, each with its source, and Analysis, which ties them together for one journal.

It opens no file and reads no clock: today's date is passed in.
"""
