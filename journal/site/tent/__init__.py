"""What a tent's page and the sheet for its door show, part by part: frozen values, worded, nothing left to reckon."""
