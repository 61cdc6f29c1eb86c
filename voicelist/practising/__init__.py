"""Practice with sound, terminal and store: a rehearsal held, its partner's voice, wordings tried by
voices, questions asked. What is decided and told is in `voicelist.practice`. May import everything
but the commands.
"""
