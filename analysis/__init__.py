"""From the frames of a clip to what a rowing coach needs to say next.

The stages stand in one line, and imports point to the left only::

    clip → pose → motion → stroke → coaching → output

:mod:`analysis.review` runs them in order.
"""

__version__ = "0.1.0"
