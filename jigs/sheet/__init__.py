"""The set-up sheet: one content model, several outputs."""
