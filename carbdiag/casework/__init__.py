"""From a case to belief: what was said becomes evidence, evidence becomes a posterior over hypotheses.

Modeling choices beyond `carbdiag.belief`:

* A sign told without a place shows *somewhere*; told with several places, somewhere among them.
* Paraphrases (one `cluster`, one place, one status) are one statement: the rider said one of these words.
* A change of setting shifts the mixture by its step; what was seen later, without putting it back, is read under that
  shift. Hypotheses are about the engine as the trouble of today began: a setting whose move brought it on is part of
  them, and what was seen before is read without the move. A repair removes its cause with the
  chance that its effect implies, and later observations are read as a mix of repaired and not.
* People ask because of the fault: a hypothesis with no part in any sign told unasked counts less.
* A known change of air makes the matching air cause as large as computed.
"""
