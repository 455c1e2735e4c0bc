"""Writers: a cut plan in, a file for the laser out."""
