{% from "lists/_rows.html" import rows_of %}
journalRows({{ script|in_script }}, {{ rows_of(kind, rows, root)|string|in_script }});
