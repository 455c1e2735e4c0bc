"""From a wanted outline to the path of the beam: knows no part and no fixture."""
