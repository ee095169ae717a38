"""The knowledge records, one frozen model per kind: each module is named for the file or folder of `knowledge/`.

`quiz` holds those of quizzes; `language`, with the `*_words` it is made of, those of `reading/`.

They say how the YAML must look; a field unknown here is refused. Units are in the names.
"""
