var t=document.querySelector("[data-print]");t&&(t.hidden=!1,t.addEventListener("click",()=>window.print()));
