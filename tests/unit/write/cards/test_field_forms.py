"""Forms: their columns are those of the files, what is known stands on them, and a bare plan gives forms too."""

from pathlib import Path

from pypdf import PdfReader
from wirerun.read.measured import FILES
from wirerun.records import Plan
from wirerun.write.cards import field_forms
from wirerun.write.cards.field_forms import form_sheets, write_forms


def forms(plan: Plan) -> list[field_forms._Form]:
    makers = ("_tensions", "_clip_tests", "_pull_outs", "_minutes", "_freed")
    return [getattr(field_forms, name)(plan) for name in makers]


def test_a_form_is_typed_in_as_it_stands(plan: Plan) -> None:
    """Its columns are those of the file; those with a star are not, and what the file must have is there."""
    for form in forms(plan):
        row = FILES[form.file.removesuffix(".csv")].model_fields
        named = [column.name for column in form.columns if not column.name.endswith("*")]
        assert set(named) <= set(row)
        assert {name for name, field in row.items() if field.is_required()} <= set(named)
        assert all(len(line) == len(form.columns) for line in form.lines)


def test_there_is_a_form_for_every_file(plan: Plan) -> None:
    assert [form.file for form in forms(plan)] == [f"{name}.csv" for name in FILES]


def test_rows_and_what_is_expected_there_are_on_them(plan: Plan, tmp_path: Path) -> None:
    write_forms(plan, tmp_path / "forms.pdf")
    pages = [page.extract_text() for page in PdfReader(tmp_path / "forms.pdf").pages]
    assert len(pages) == len(FILES)
    assert "B01-R001" in pages[0]
    for page in pages:
        assert "eye protection" in page
        assert "licensed practice" in page
    write_forms(plan, tmp_path / "again.pdf")
    assert (tmp_path / "again.pdf").read_bytes() == (tmp_path / "forms.pdf").read_bytes()


def test_a_plan_without_rows_gives_forms_to_fill_in(bare_plan: Plan) -> None:
    assert len(form_sheets(bare_plan)) == len(FILES)
