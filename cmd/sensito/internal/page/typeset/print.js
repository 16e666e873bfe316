// A page that is printed has a button for it.
const button = document.getElementById('print');
button.hidden = false;
button.onclick = () => print();
