"""What a cut plate is like, measured at chosen places; nothing is judged here."""
