"""A smaller journal for other readers. The model is redacted before any page exists, by an allow-list of fields: a
field that nobody has decided to show is removed. Granting less never shows more. The check at the end relies on none of
this."""
