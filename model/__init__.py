"""Suspension geometry: from a scene file to what every joint does in every pose. Computes, never draws.

Which joint of a scene gives which rows to the solver, and what is measured at it afterwards:

=====================  ==================================  ==============================================
in the scene           rows for the solver                 measured in every pose
=====================  ==================================  ==============================================
two-ended link         1 distance                          tilt (or cocking and turn) at each end
arm, nothing on it     2 distances (pivots to ball joint)  stud swing; turn and cocking at each pivot
arm that carries more  5 (a hinge) and 3 at its ball       the same
strut                  2 (its line passes the top mount)   stroke; tilt at the top mount
wheel                  1 (its height is a drive)           none
rack, pitman arm       none (the drive moves it)           none
idler, centre link     5 (a hinge); 3 + 3 + 1 (no roll)    none
coilover               none                                stroke, spring; tilt at each eye
=====================  ==================================  ==============================================

Where rigid links and arms hold a part twice over, each of them becomes a body and each of its ends a bushing, or the
whole link a spring where it turns freely on both ends (`model.softening`); the other rows stay.

Inside: mm, N, rad; axes of ISO 8855 (x forward, y left, z up); every moving part's transform is the
identity at ride height, so that it maps a ride-height position to the position in the pose.
"""
