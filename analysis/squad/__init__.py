"""A squad's clips: whose they are, what is still to do, and the pages made from it all."""
