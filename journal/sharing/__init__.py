"""A smaller journal for other eyes. Redaction happens on the model, before any page exists, by an allow-list of fields:
what nobody has decided to show is gone. Granting less never shows more. The check at the end trusts none of this."""
