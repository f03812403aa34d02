"""What player and clients say to each other, and how it gets across."""
