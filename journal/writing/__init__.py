"""What the program writes into a journal: new folders, new entries. It never overwrites."""
