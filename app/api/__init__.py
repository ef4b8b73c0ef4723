"""The interface for programs: the same answers, books and gate as the pages, as JSON by HTTP."""
