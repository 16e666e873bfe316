// A page that is printed has a button for it, where script can print.
const button = document.getElementById("print");
button.hidden = false;
button.addEventListener("click", () => print());
