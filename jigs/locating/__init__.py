"""Where the part really sits in a guide, and how sure that is."""
