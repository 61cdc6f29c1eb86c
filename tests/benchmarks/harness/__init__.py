"""What studies share: sound and what is done to it, the product as they hear with it, what it is
compared with, what was heard once and is kept, proportions, tables and reports. Imports the
product, the scripts of the test sound and `tests.team`; no study."""
