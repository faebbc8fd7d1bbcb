journalRows({{ script|in_script }}, {{ rows|rows_of(kind, root)|string|in_script }});
