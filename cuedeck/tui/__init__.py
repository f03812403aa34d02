"""The terminal screen: the shot as the camera sees it, and the set as the packets light it."""
