"""What was taken: every packet of every take, kept in the show's folder."""
