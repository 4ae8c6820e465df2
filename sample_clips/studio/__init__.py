"""The studio: renders short clips of rowers whose motion is known exactly.

Axes everywhere: x along the machine or hull, + towards the athlete's feet; y to the athlete's
left; z up. Lengths in metres, angles in degrees unless the name says otherwise.
"""
