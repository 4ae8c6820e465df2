"""The planar rower: angles, fit, back line, filters."""
