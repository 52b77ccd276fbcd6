from django.db import migrations


def carry_over(apps, schema_editor):
    """One class for every text that was written, however it was spaced or capitalised; none has privileges yet."""
    Member = apps.get_model("members", "Member")
    LicenceClass = apps.get_model("members", "LicenceClass")
    classes = {each.name.casefold(): each for each in LicenceClass.objects.all()}
    for member in Member.objects.exclude(licence_text="").order_by("pk"):
        name = " ".join(member.licence_text.split())
        if not name:
            continue
        if name.casefold() not in classes:
            classes[name.casefold()] = LicenceClass.objects.create(name=name)
        member.licence_class = classes[name.casefold()]
        member.save(update_fields=["licence_class"])


def write_back(apps, schema_editor):
    Member = apps.get_model("members", "Member")
    for member in Member.objects.exclude(licence_class=None).select_related("licence_class"):
        member.licence_text = member.licence_class.name
        member.save(update_fields=["licence_text"])


class Migration(migrations.Migration):
    """By itself: PostgreSQL alters no table whose rows were changed in the same transaction."""

    dependencies = [("members", "0002_licence_classes")]

    operations = [migrations.RunPython(carry_over, write_back)]
