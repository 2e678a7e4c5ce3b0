"""What a change did to the isolated interfaces of a repository: two revisions judged, and their results compared.

In: a repository and two revisions, or one and the work tree. Out: a `Review`: items (what became new, worse, better,
fixed, open ...) each with before, after, cause and places, the electrical difference, and changes of policy. git is
asked by plumbing alone and runs nothing that a repository says; nothing is checked out. Knows neither forges nor
comments.
"""
