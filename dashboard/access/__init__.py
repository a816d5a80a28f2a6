"""Who may do what on the pages: sign-in, roles, and what keeps strangers out."""
