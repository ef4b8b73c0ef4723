"""People: signing in, the first start, invitations, one's own ways in, and who may do what."""
