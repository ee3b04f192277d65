// The time zone of this device, offered and not decided: the site may lie elsewhere.
const field = document.getElementById("time_zone");
if (field && !field.value) field.value = Intl.DateTimeFormat().resolvedOptions().timeZone ?? "";
