"""Where packets leave: the routes to the outputs, what stands on the line, and the blackout over it."""
