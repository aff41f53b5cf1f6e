"""Problems with choices: branch and bound over outlines, which are problems without."""
