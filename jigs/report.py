"""What the command line prints of a plan: a short summary, and the findings."""

from __future__ import annotations

from jigs.finding import Finding
from jigs.plan import Plan
from jigs.quantity import length_text


def findings_text(findings: tuple[Finding, ...]) -> str:
    """Return the findings, gravest first, one block each; empty when there is none."""
    weight = {"fail": 0, "warn": 1, "note": 2}
    blocks = []
    for finding in sorted(findings, key=lambda f: weight[f.severity.value]):
        lines = [f"{finding.severity.value.upper()} {finding.subject}: {finding.message}"]
        if finding.hint:
            lines.append(f"hint: {finding.hint}")
        blocks.append("\n".join(lines))
    return "\n".join(blocks)


def summary_text(plan: Plan) -> str:
    """Return the datums of every set-up as a short table."""
    units = plan.job.units
    lines = [f"{plan.job.number} rev {plan.job.revision}: {plan.job.name}"]
    for planned in plan.setups:
        lines.append(f"{planned.setup.name}: {planned.guide.kind}, {planned.setup.work_offset}")
        for datum in planned.guide.datums:
            lines.append(
                f"  {datum.axis}  {datum.face:<24} from {datum.side}  "
                f"{length_text(datum.offset_mm, units)} from program zero, "
                f"u {length_text(datum.u_mm, units)}; "
                f"set {datum.axis} to {length_text(datum.reading_mm, units)} at touch"
            )
    return "\n".join(lines)
