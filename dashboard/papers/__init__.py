"""Papers: the monthly review, the loan evidence and their proof, frame sheets and labels."""
