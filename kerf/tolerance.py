"""Every tolerance of the two packages, named, with its reason.

No other module holds a bare small number. Lengths are millimetres.
"""

from __future__ import annotations

from typing import Final

#: Two points closer than this are the same point: a hundredth of what a laser can place,
#: ten thousand times the rounding of a float at 1 m.
COINCIDENT_MM: Final = 1e-6

#: An edge shorter than this may give way to neighbours that meet without it, mm.
SHORT_EDGE_MM: Final = 1e-3

#: Rounding allowance for a length computed from coordinates of size ``extent_mm``:
#: 2**-52 times a handful of operations, kept well under the 1e-9 mm per 100 mm we promise.
RELATIVE_ROUNDING: Final = 1e-12

#: A bulge smaller than this is a straight edge: the sagitta of a 1 m chord is then 0.5e-9 mm.
STRAIGHT_BULGE: Final = 1e-12

#: Chord error of facets handed to shapely to decide topology: a micrometre.
FACET_MM: Final = 1e-3

#: Default deviation allowed when splines, ellipses and point runs become arcs.
ARC_FIT_MM: Final = 2e-3

#: Edges that meet within this turn are tangent (radians): 1 µm of step over 1 mm of edge.
TANGENT_RAD: Final = 1e-3

#: A drawing whose outlines are smaller than this across is taken for one in another unit:
#: no guide can hold a part below a millimetre.
PART_SMALLEST_MM: Final = 1.0

#: A drawing whose outlines are larger than this across is taken for one in another unit:
#: twice the bed of a common sheet laser (1.5 m), so that a page of nested parts still reads.
PART_LARGEST_MM: Final = 3000.0

#: A drawing larger than this across is read in no unit, whoever asks: a stray entity or a
#: damaged number, which would be followed in millions of facets. 1 km.
READ_LARGEST_MM: Final = 1e6

#: Engraving keeps this far from every cut: a wall that sets zero must not be scarred, and a
#: letter half cut away is misread.
MARK_CLEAR_MM: Final = 1.0

#: A curve whose speed falls below this share of its greatest stops there: a cusp, cut as a corner.
CUSP_SPEED: Final = 1e-6

#: A full kerf above this is no laser's: a wrong unit, or half against full.
GREATEST_KERF_MM: Final = 2.0

#: An axis further off its scale than this is not corrected but mended at the laser.
GREATEST_SCALE_ERROR: Final = 0.02

#: Kerfs written on one card may differ by rounding to a micrometre, and no more.
CARD_AGREES_MM: Final = 1e-3

#: An arc chain may miss the heading of a curve at its end by this (radians): a quarter of what
#: still counts as tangent.
END_HEADING_RAD: Final = 2.5e-4

#: Ends of drawn edges closer than this share of the drawing's diagonal are the same point:
#: a DXF with eight significant digits rounds at half of it.
JOIN_SHARE: Final = 1e-7

#: Widest gap closed between two loose ends, as a share of the drawing's diagonal: exporters
#: that draw edge by edge leave gaps up to 0.1 mm on a 370 mm diagonal.
GAP_SHARE: Final = 3e-4

#: Widest gap closed whatever the drawing's size, mm: what a person sees on a plot.
GAP_LARGEST_MM: Final = 0.25

#: A gap is closed only if it is below this share of the shorter edge it joins; closing a wider
#: one would change the edge's direction by more than the gap suggests.
GAP_EDGE_SHARE: Final = 0.25

#: A third loose end within this many gap widths makes a gap ambiguous: it is left open.
GAP_RIVAL: Final = 2.0

#: A mended gap below this is not worth a line of its own in the report, mm.
GAP_SILENT_MM: Final = 1e-3

#: Two loops, or an edge's two sides, closer than this all along are no outline, mm: below half
#: of the narrowest kerf.
SLIVER_MM: Final = 0.02

#: Edges whose boxes meet in more pairs than this are a scribble, not outlines: 1 s of work.
PAIRS_LARGEST: Final = 5_000_000

#: A contact this far from the part's edge still lies on it: a tenth of what a laser repeats.
CONTACT_ON_EDGE_MM: Final = 2e-3

#: How far from 1 the length of a unit vector may be: a part in a million, well above rounding.
UNIT_VECTOR: Final = 1e-6

#: A contact's normal may lean this much from the edge's own before it is called wrong (rad).
CONTACT_NORMAL_RAD: Final = 1e-3

#: A singular value below this share of the largest counts as zero: far above rounding (1e-16),
#: far below any layout a shop could use (a moment arm of 0.1 µm on a 100 mm part).
RANK_RELATIVE: Final = 1e-9

#: Conditioning above this is called weak: the part turns 20 times as readily about its weakest
#: axis as about its strongest, at the stated length scale. Source: common practice.
WEAK_CONDITIONING: Final = 20.0

#: A clamp's place this far off the outline is meant to be on it: a finger is set by eye.
PUSH_PLACE_MM: Final = 0.5

#: Residual below this share of the load counts as balanced (closure by least squares).
BALANCE_RELATIVE: Final = 1e-9

#: Exact poses are iterated until the last step is below this, mm (and rad at 100 mm).
POSE_STEP_MM: Final = 1e-12

#: Layouts whose objectives differ by less than this share are tied: far above rounding of the
#: objective (1e-13), far below a micrometre on any part.
TIE_RELATIVE: Final = 1e-9

#: Neighbouring arcs whose circles agree this well become one arc: a tenth of COINCIDENT_MM, and
#: counted into the deviation reported.
COCIRCULAR_MM: Final = 1e-7

#: A size within this share of 25.4 times another is taken for a mistaken unit: a kerf on the
#: smallest size of a coupon changes it by less.
UNIT_MISTAKE_SHARE: Final = 0.1

#: A dead end shorter than this share of its loop's diagonal is an overshoot: a corner drawn
#: with untrimmed lines sticks out by a few pen widths.
OVERSHOOT_SHARE: Final = 0.01

#: Overlap up to which a part that touches its locator still counts as admissible: a thousandth
#: of the clearance of a gauge pin, a thousand times the rounding of a corner computed from
#: nearly parallel walls.
TOUCH_MM: Final = 1e-8

#: Overlap at the nominal pose that counts as touching, not as fouling: the rounding of a
#: drawing (four decimals of an inch, both outlines) and the facets of the test.
TOUCH_FOUL_MM: Final = 6e-3

#: Singular values of the scaled design below this share of the greatest say nothing: far
#: above rounding (1e-15), far below what a real pair of sizes of different length gives.
RANK_RATIO: Final = 1e-6

#: Two terms whose estimates are correlated beyond this are only just parted: each is then
#: more than three times less sure than if the other were known.
CORRELATED: Final = 0.95

#: Chance of a false alarm when an outlier or an excess scatter is named, over a whole form.
SIGNIFICANCE: Final = 0.05

#: An exported arc's Bézier handles are as long as the construction says within this share: the
#: constants in use for a quarter run from 0.55191 to 0.5523 against 0.55228.
BEZIER_ARC_SHARE: Final = 7e-4

#: A closed run of Bézier curves this round, as a share of its radius, was a circle: four
#: quarters of the usual construction bulge by 2.7e-4 of it.
BEZIER_CIRCLE_SHARE: Final = 3.5e-4

#: Half-diameters of an ellipse that agree this well are those of a circle: rounding through a
#: stack of transforms, a hundred times under what a drawing's decimals can say.
CIRCULAR_RELATIVE: Final = 1e-9

#: Deviation allowed each time an elliptical beam or unequal axis scales turn an arc into an
#: ellipse and back into arcs: two of them stay at half the 2 µm a contact may be off.
BEAM_ARC_MM: Final = 5e-4

#: A seam or a tab keeps this far from a stretch that locates: a pierce's hot spot is about a
#: millimetre wide. Source: common practice.
SEAM_CLEAR_MM: Final = 3.0

#: A way in shorter than this puts the pierce's hot spot on the path: then it is left out.
LEAST_LEAD_MM: Final = 0.4

#: A point run is read as a sampled curve only where it turns by no more than this at every
#: point (radians): 32 points a turn, and what four decimals of a small one add. A hexagon, a
#: 12-gon and a 24-gon stay polygons.
RUN_TURN_RAD: Final = 0.198

#: ... and only where the curve would bulge no further than this from the drawn segments, so
#: that a wrong guess costs less than a kerf.
RUN_SAGITTA_MM: Final = 0.1

#: ... and only where neighbouring segments are alike: none more than this many times the next.
RUN_RATIO: Final = 2.5

#: ... for at least this many segments on end: fewer could as well be a chamfered corner.
RUN_SEGMENTS: Final = 6

#: How far to either side of an edge a view looks for material: well above the kernel's own
#: 1e-7, well under the narrowest slot a beam can cut.
SIDE_PROBE_MM: Final = 1e-3

#: A probe of the view nearer to an outline than this says nothing: the tessellation of the
#: kernel's own ray tests and the fitted arcs both stay within it.
PROBE_CLEAR_MM: Final = 5e-3

#: More entities than this, once blocks are unfolded, are no part to hold: it bounds time and
#: memory against blocks that multiply.
ENTITIES_LARGEST: Final = 300_000

#: An entity whose heights differ by more than this share of the drawing's diagonal does not
#: lie flat: at that tilt its outline would shrink by half a part in a hundred million.
FLAT_SHARE: Final = 1e-4

#: Largest drawing file read, bytes: larger ones hold scans or assemblies.
FILE_LARGEST_BYTES: Final = 64 * 2**20

#: Sagitta of the facets a cut file is proven with, mm: a tenth of the closest limit below.
PROOF_FACET_MM: Final = 1e-4

#: Points of the part are laid into the virtual cut this close together, mm.
PROOF_SPACING_MM: Final = 0.5

#: What a virtual beam leaves that is smaller than this is rounding of the union of its runs, mm²:
#: no piece of plastic is a thousandth of a millimetre square.
PROOF_SLIVER_MM2: Final = 1e-6

#: A contact or clearance measured in the virtual cut may differ this much from the record, mm.
PROOF_CONTACT_MM: Final = 2e-3

#: A datum offset measured in the virtual cut may differ this much from the record, mm.
PROOF_OFFSET_MM: Final = 1e-3

#: No coordinate of a drawing is this large, in any unit: beyond it a float no longer tells
#: tenths of a millimetre apart.
NUMBER_LARGEST: Final = 1e12

#: A page of an SVG larger than this many of its units is a slip: places counted from its far
#: edge would lose more than a billionth of one.
PAGE_LARGEST: Final = 1e7

#: A part's edge this far off a wall's direction still lies along it (radians): 0.1 mm over 100 mm
#: is what a drawing's rounded coordinates can do, far more than a true edge is off.
SQUARE_RAD: Final = 1e-3

#: Two walls stand opposite each other when their normals part by 120° or more (cosine): a
#: chamfer (90°) and a fillet are no webs, a prong that tapers by up to 60° is one.
OPPOSED_COS: Final = -0.5

#: Standard uncertainty of one wall about the others of the same cut, mm: sheets repeat within
#: ±0.02 to 0.05 mm (from memory), taken at the low end and uniform.
WALL_OWN_U_MM: Final = 0.012

#: A check size runs from wall to wall: its ends lie this near to one.
AS_CUT_ON_WALL_MM: Final = 0.01

#: A size this far off is another size, another unit or a wrong digit, not a cut.
AS_CUT_FAR_MM: Final = 2.0

#: Standard uncertainty of an axis' scale that nobody measured: 0.1 mm on 200 mm, the
#: correction a hobby machine gets (a service's guide), taken as one sigma.
SCALE_UNKNOWN_U: Final = 5e-4

#: Arcs whose centres and radii agree to this share of the radius are one circle: files round
#: to five or six digits.
ROUND_SHARE: Final = 1e-4

#: A wall that a slide meets at less than this angle does not bar it (radians): over a metre it
#: comes nearer by a micrometre; the ends of round walls are known to 1e-8.
FREE_WAY_RAD: Final = 1e-6

#: Directions closer than this are one direction (radians): rounding of a heading worked out
#: from an edge a micrometre long, far below any angle a drawing can mean.
SAME_HEADING_RAD: Final = 1e-9

#: A place of the wanted wall further than this many kerfs from the wall that is cut is lost to
#: the beam: an inside corner of 25° still passes, a gap narrower than the kerf does not.
LOST_KERFS: Final = 2.0

#: A centre mark passes its circle's centre within this share of the radius …
CENTRE_MARK_OFF: Final = 1e-3

#: … and ends within this many radii of it: marks stand out of a hole by a few millimetres.
CENTRE_MARK_REACH: Final = 4.0

#: A loose end this close to an edge, as a share of the loop's diagonal, ends on that edge.
TEE_SHARE: Final = 1e-4

#: Arcs of the beam's path tighter than this are not cut wider than straights: the coupon does
#: not measure them, and the turns about corners are among them.
CURVE_LEAST_RADIUS_MM: Final = 2.0

#: A step this small between neighbours that are widened differently is left as it is.
CURVE_STEP_MM: Final = 5e-4

#: With more spans of splines and ellipses than this, a drawing's curves are fitted together
#: rather than sparingly one by one: a wild span can take the search a tenth of a second.
FEW_SPANS: Final = 48

#: A stretch of curve may start this far behind its arc, as a share of the arc's chord: rounding
#: of a point worked out by cutting a span, a hundredth of which would show at 1 m.
SECTOR_SHARE: Final = 1e-9

#: A jump of curvature by less than this share between two spans is none: a joint of arcs there
#: gains nothing.
JUMP_SHARE: Final = 0.02

#: Pieces on a grid of places may overlap by this share of a cell and still only touch: rounding
#: of a region summed from coordinates a thousand cells long, a nanometre on a cell of 1 mm.
NO_FIT_TOUCH_CELLS: Final = 1e-6

#: A step that shortens a strip by less than this share ends its compaction: a tenth of a
#: millimetre on a sheet of a metre.
COMPACTED_SHARE: Final = 1e-4

#: Outlines whose boxes meet in more pairs than this are hatching or a scribble: comparing that
#: many takes some seconds.
LOOP_PAIRS_LARGEST: Final = 300_000

#: Two carriers count as one (parallel lines, concentric equal circles) when the sine of their
#: angle, or their centres' distance over their radii, is below this: a few hundred roundings.
SAME_CARRIER: Final = 1e-13

#: Corners that turn less than this are tangent joints (radians): no gap opens between the zones
#: of contact of their neighbours that a contact could slip through.
JOINT_RAD: Final = 1e-9

#: Neighbouring zones of contact overlap by this (mm along a line, or in the cosine of an angle),
#: so that rounding leaves no seam between them; through an angle and back takes FACET_SEAM.
ZONE_SEAM: Final = 1e-9
FACET_SEAM: Final = 1e-6

#: Length at the end of a line or arc within which the depth of the solid behind it is not yet
#: limited by the neighbour: a nanometre, so that a contact right at a corner counts.
SEAM_DEPTH_MM: Final = 1e-6

#: Lines that cross at a smaller sine than this are parallel: their crossing, computed, would be
#: off by more than TOUCH_MM at 1 m; the ends of the lines decide instead.
PARALLEL_SINE: Final = 1e-6

#: A linear programme's row counts as violated beyond this share of its limits, and takes no part
#: in another row below this share of it: rounding of a basis of three or four rows.
LP_VIOLATION: Final = 1e-13
LP_WEIGHT: Final = 1e-8

#: A climb has reached its top when a step promises less than this share of the room searched.
SETTLED_SHARE: Final = 1e-9

#: Edges that turn back on each other to within this meet in a cusp: the angle alone no longer
#: tells on which side the second lies.
CUSP_RAD: Final = 1e-9

#: A contact that would have to pull with this share of the part's weight is not lifted: rounding
#: of a centre of mass and of contacts worked out from the same outline.
WEIGHT_CARRIED: Final = 1e-6

#: A sweep this close to a whole turn is one (radians): 1 nm at a radius of 1 m.
WHOLE_TURN_RAD: Final = 1e-9

#: A round of cuts shortened by less than this share is not shortened: rounding of a sum of
#: hundreds of distances, a hundredth of a millimetre on ten metres.
TOUR_GAIN: Final = 1e-6

#: Sagitta of the facets that tell which cut lies within which and how near cuts are, mm: a
#: fiftieth of the narrowest kerf.
ORDER_FACET_MM: Final = 2e-3

#: Sagitta of the facets that pieces are laid out with, mm: a tenth of a usual kerf.
LAYOUT_FACET_MM: Final = 0.02

#: Pieces are laid out with outlines simplified by this much, always outward, mm: a twentieth of
#: a usual gap.
LAYOUT_SLACK_MM: Final = 0.1

#: Pieces drawn on a lattice are drawn on a multiple of this, mm …
LATTICE_MM: Final = 1e-3

#: … within this share of it: rounding of coordinates of a metre, turned.
LATTICE_OFF: Final = 1e-3

#: Pieces of a dense layout may overlap by this share of the smaller one's area, and leave their
#: place by this share of the strip's height: the library works in single precision.
DENSE_OVERLAP_SHARE: Final = 1e-5
DENSE_REACH_SHARE: Final = 1e-5

#: Facets where the question is of millimetres (what hangs free, what comes loose, where a bond
#: gives first): 0.02 mm moves no factor in its third digit.
ROUGH_FACET_MM: Final = 0.02

#: Facets of a tool's curved track, mm: a tenth of what a path itself is held to.
TRACK_FACET_MM: Final = 2e-3

#: Overlap of a cutter and what stands beside it below which they only touch, mm²: a micrometre
#: along a metre.
CLASH_DUST_MM2: Final = 1e-3

#: Pieces and overhangs below this are dust, mm²: less than a square millimetre holds nothing
#: and hurts nobody.
PIECE_DUST_MM2: Final = 0.5

#: An edge this near to the extreme of the part bears on a jaw, mm: what a tightened jaw levels.
JAW_TOUCH_MM: Final = 0.02

#: A bound of the slack is near enough to what is attained within this share of it, or this
#: length, mm: a fiftieth of what a finder repeats.
CERTIFIED_SHARE: Final = 2e-3
CERTIFIED_MM: Final = 1e-4

#: What is left of a window fills its convex hull when it lacks less than this share of the area:
#: rounding of a clip.
WINDOW_FILLED: Final = 1e-9

#: A part may touch a leaning wall where it stands back by this much before it is told (mm):
#: what a good indicator just shows, and below what any wall of a cut does on its own.
LEAN_UNREACHED_MM: Final = 0.005
