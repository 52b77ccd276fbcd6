from django.db import migrations


class Migration(migrations.Migration):
    dependencies = [("members", "0003_licence_text_to_classes")]

    operations = [migrations.RemoveField(model_name="member", name="licence_text")]
