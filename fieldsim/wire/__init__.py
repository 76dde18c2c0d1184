"""Round wire, how it packs into windings, and its resistance."""
