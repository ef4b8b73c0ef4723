"""What is worked out of a site, a module a question: asked, computed, stored, found again."""
