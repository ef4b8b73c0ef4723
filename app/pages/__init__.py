"""The pages: what every page shares stands here, a page of its own is a folder."""
