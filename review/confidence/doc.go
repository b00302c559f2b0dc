// Package confidence computes how sure one may be of a hypothesis from what people report about characters. It holds
// numbers only: hypotheses, forms, characters and states are indices, and no name of a taxon is known here.
//
// The main number is the posterior probability of a hypothesis F (a family), which is a mixture of forms g with weights
// w(g), given reports r of people j about characters c:
//
//		P(F | reports) ∝ π(F) · Σ_g w(g) · Π_c [ Σ_s p(s | F, g, c) · L_c(s) ]^e(c)
//		L_c(s) = (1 − κ_s) · Π_j P_j(r_j | s) + κ_s · Σ_s' w_c(s → s') · Π_j P_j(r_j | s')
//
//	  - s is the unknown true state of the character; the sum over it is exact.
//	  - P_j(r | s) is what a person says when the state is s (Report). Misreading has a direction: a striking state is often
//	    overlooked and hardly ever imagined, so that whoever reports one has most likely seen it (Green and Swets 1966,
//	    Signal detection theory and psychophysics; Macmillan and Creelman 2005, Detection theory: a user's guide).
//	  - w_c(s → s') are the character's confusion weights, and κ_s is the probability that the specimen or the photo misleads
//	    everybody alike, so that ten glances at one photo are not ten proofs. It is Spec.SharedError at an ordinary state
//	    and has the direction of a practised reader's errors at the others.
//	  - e(c) is 1, or the exponent of the dependence group when two or more of its characters are reported (Dependent).
//	  - The last hypothesis is always "none of those listed": it has a small prior (Spec.None) and uses the background of
//	    every character.
//	  - The background of a character is nine tenths of the prior-weighted mean over the hypotheses that have it and one
//	    tenth uniform. A form without a cell uses it, so that the hypothesis about which least is known does not win.
//	  - Each cell is mixed with a little background (Spec.TableError): a table can be wrong, and a single zero in it must
//	    not make the number 0.
//
// Why explains the number by the weight of evidence of Good (1950), Probability and the Weighing of Evidence; Information
// says what to look at next by the mutual information of Shannon (1948), A Mathematical Theory of Communication. Both are
// methods of Posterior. What the numbers are about, and how they are worded, is left to package review.
package confidence
