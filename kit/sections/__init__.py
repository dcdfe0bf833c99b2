"""Sections: the properties of a polygon."""
