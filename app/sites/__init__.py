"""Sites and what people change of them: the one gate, checks, differences, folders."""
